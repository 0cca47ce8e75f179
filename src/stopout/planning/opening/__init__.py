"""How a coat is opened: by the beam, through a film, with a knife, or not at all."""
