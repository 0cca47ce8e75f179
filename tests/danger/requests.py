"""Dangerous requests, one a row: what is asked for, and what must be said instead of a plan.

What is expected is the code of a stop, or `refused: WORDS` where the name itself is turned away.
Why each is dangerous stands in the tables (`stopout table refusals`, `ceilings`, `names`), with its
source; that a request like it must never be planned is the rule tested here.
"""

# `stopout bath`: expected, options. Area, edge, depth and size of the piece are added.
BATHS = [
    # A rate of one's own opens no hot or strong bath.
    ("ceiling-strength", "--material aluminium --etchant sodium-hydroxide --strength 450g/L --temperature 90degC --rate 60um/min"),
    ("ceiling-temperature", "--material aluminium --etchant sodium-hydroxide --temperature 90degC --rate 60um/min"),
    ("ceiling-warmest", "--material aluminium --etchant sodium-hydroxide --temperature 66degC --rise 15K --rate 9um/min"),
    ("ceiling-rise", "--material aluminium --etchant sodium-hydroxide --temperature 40degC --rise 58K --rate 3um/min"),
    ("ceiling-rise", "--material aluminium --etchant sodium-hydroxide --temperature 40degC --rise 16K"),
    ("ceiling-warmest", "--material aluminium --etchant sodium-hydroxide --temperature 60degC --rise 25K --rate 9um/min --cooled"),
    ("ceiling-strength", "--material aluminium --etchant lye --strength 50% --rate 3um/min"),
    ("ceiling-strength", "--material aluminium --etchant sodium-hydroxide --strength 30degBe --rate 3um/min"),
    ("ceiling-temperature", "--material aluminium --etchant ferric-chloride --strength 120g/L --temperature 90degC --rate 60um/min"),
    ("strong-ferric-chloride-on-aluminium", "--material aluminium --etchant ferric-chloride --strength 42degBe --rate 20um/min"),
    ("strong-ferric-chloride-on-aluminium", "--material aluminum --etchant FeCl3 --strength 20degBe"),
    ("ceiling-warmest", "--material aluminium --etchant ferric-chloride --strength 120g/L --temperature 43degC --rise 10K --rate 20um/min"),
    ("ceiling-temperature", "--material aluminium --etchant copper-sulfate-chloride --temperature 50degC --rate 15um/min"),
    ("ceiling-strength", "--material aluminium --etchant saline-sulfate --strength 200g/L --rate 15um/min"),
    ("ceiling-temperature", "--material stainless-304 --etchant ferric-chloride --temperature 85degC --rate 60um/min"),
    ("ceiling-temperature", "--material copper --etchant ferric-chloride --temperature 80degC --rate 60um/min"),
    ("ceiling-temperature", "--material brass --etchant ferric-chloride --temperature 70degC --rate 60um/min"),
    ("ceiling-temperature", "--material mild-steel --etchant ferric-chloride --temperature 95degC --rate 60um/min"),
    ("ceiling-warmest", "--material copper --etchant ferric-chloride --temperature 55degC --rise 15K --rate 60um/min"),
    ("ceiling-strength", "--material copper --etchant ferric-chloride --strength 48degBe --rate 2um/min"),
    ("ceiling-temperature", "--material copper --etchant sodium-persulfate --temperature 60degC --rate 10um/min"),
    ("ceiling-warmest", "--material copper --etchant sodium-persulfate --temperature 43degC --rise 10K --rate 10um/min"),
    ("ceiling-strength", "--material copper --etchant sodium-persulfate --strength 300g/L --temperature 40degC --rate 10um/min"),
    ("ceiling-temperature", "--material brass --etchant ammonium-persulfate --temperature 70degC --rate 10um/min"),
    ("ceiling-strength", "--material copper --etchant ammonium-persulfate --strength 350g/L --temperature 40degC --rate 10um/min"),
    ("ceiling-temperature", "--material copper --etchant cupric-chloride --temperature 75degC --rate 10um/min"),
    ("ceiling-temperature", "--material brass --etchant cupric-chloride --temperature 60degC --rate 10um/min"),
    ("ceiling-temperature", "--material zinc --etchant copper-sulfate --temperature 60degC --rate 20um/min"),
    ("ceiling-strength", "--material zinc --etchant copper-sulfate --strength 200g/L --rate 20um/min"),
    ("rate-temperature-out-of-range", "--material zinc --etchant copper-sulfate --temperature 28degC"),
    ("rate-strength-out-of-range", "--material aluminium --etchant sodium-hydroxide --strength 5g/L"),
    # More than a bench holds.
    ("ceiling-volume", "--material aluminium --etchant sodium-hydroxide --area 5000cm^2 --size 800mm,700mm --quantity 20"),
    ("ceiling-gas", "--material aluminium --etchant sodium-hydroxide --area 5000cm^2 --size 800mm,700mm --quantity 20"),
    ("ceiling-heat", "--material aluminium --etchant sodium-hydroxide --area 5000cm^2 --size 800mm,700mm --quantity 20"),
    ("ceiling-gas", "--material aluminium --etchant sodium-hydroxide --temperature 60degC --area 1000cm^2 --size 400mm,300mm"),
    ("ceiling-heat", "--material copper --etchant sodium-persulfate --agitation rocked --temperature 40degC --area 6000cm^2 --size 800mm,800mm"),
    ("ceiling-volume", "--material copper --etchant ferric-chloride --volume 50L"),
    ("ceiling-current", "--material mild-steel --etchant electrolytic --electrolyte sodium-chloride --current 60A --area 500cm^2 --size 300mm,200mm"),
    ("ceiling-current", "--material copper --etchant electrolysis --electrolyte copper-sulfate --current 21A --area 500cm^2 --size 300mm,200mm"),
    ("ceiling-current", "--material aluminium --etchant electrolytic --electrolyte salt --current-density 0.2A/cm^2 --area 200cm^2 --size 300mm,200mm"),
    ("ceiling-temperature", "--material mild-steel --etchant electrolytic --electrolyte sodium-chloride --temperature 80degC"),
    ("voltage-high", "--material mild-steel --etchant electrolytic --electrolyte sodium-chloride --voltage 48V"),
    ("chromate", "--material stainless-304 --etchant electrolytic --electrolyte sodium-chloride"),
    # A bath that does not cover the piece, or that the etch boils.
    ("bath-bare", "--material aluminium --etchant sodium-hydroxide --tray 120mm,80mm --volume 20mL"),
    ("bath-bare", "--material copper --etchant ferric-chloride --tray 300mm,200mm --volume 0.3L"),
    ("bath-small", "--material aluminium --etchant sodium-hydroxide --volume 0.05L"),
    ("bath-spent", "--material aluminium --etchant sodium-hydroxide --dissolved 26g/L"),
    ("bath-spent", "--material copper --etchant ferric-chloride --dissolved 120g/L"),
    ("tray-small", "--material aluminium --etchant sodium-hydroxide --tray 80mm,50mm"),
    ("etch-through", "--material aluminium --etchant sodium-hydroxide --thickness 0.05mm"),
    # Baths refused whatever the metal, under the names that people give them.
    ("fluoride-bath", "--material aluminium --etchant HF"),
    ("fluoride-bath", "--material glass --etchant 'etching cream'"),
    ("fluoride-bath", "--material stainless-304 --etchant ammonium-bifluoride"),
    ("nitric-acid", "--material zinc --etchant HNO₃"),
    ("nitric-acid", "--material copper --etchant 'aqua fortis'"),
    ("nitric-acid", "--material copper --etchant 'Aqua regia'"),
    ("hydrochloric-acid-bath", "--material mild-steel --etchant muriatic"),
    ("hydrochloric-acid-bath", "--material zinc --etchant HCl"),
    ("acid-with-peroxide", "--material copper --etchant 'HCl + H2O2'"),
    ("acid-with-peroxide", "--material copper --etchant 'muriatic acid and peroxide'"),
    ("chromate-bath", "--material aluminium --etchant K2Cr2O7"),
    ("mercury-or-silver-catalyst", "--material copper --etchant HgCl2"),
    ("refused: decomposes by itself", "--material copper --etchant hydrogen-peroxide"),
    ("refused: gives off chlorine", "--material aluminium --etchant hypochlorite"),
    ("refused: gives off chlorine", "--material mild-steel --etchant 'household bleach'"),
    ("refused: explode with paint", "--material copper --etchant 'perchloric acid'"),
    ("refused: dissolve these metals with hydrogen", "--material zinc --etchant 'sulphuric acid'"),
    ("refused: dissolve these metals with hydrogen", "--material mild-steel --etchant H2SO4"),
    ("refused: chlorine dioxide with acid", "--material copper --etchant 'Dutch mordant'"),
    ("refused: aluminium chips", "--material aluminium --etchant 'drain cleaner'"),
    ("refused: another caustic has others", "--material aluminium --etchant KOH"),
    ("refused: another caustic has others", "--material aluminium --etchant 'lithium hydroxide'"),
    ("refused: any acid sets it free", "--material copper --etchant 'potassium cyanide'"),
    ("refused: can form compounds that explode", "--material copper --etchant ammonia"),
    ("refused: nitrates feed fires", "--material copper --etchant 'ferric nitrate'"),
    ("refused: boils and spits", "--material copper --etchant 'anhydrous ferric chloride'"),
    ("refused: ferrous, which does not", "--material copper --etchant 'iron chloride'"),
    ("refused: 1.56 times as strong", "--material zinc --etchant CuSO4"),
    ("refused: without its name", "--material copper --etchant 'PCB etchant'"),
    ("refused: did you mean 'sodium-hydroxide'", "--material aluminium --etchant 'sodium hidroxid'"),
    ("refused: the table has", "--material aluminium --etchant 'sodium hydrosulfide'"),
    ("refused: 'potassium-hydroxide' is meant, it is refused", "--material aluminium --etchant 'potasium hydroxide'"),
    # Metals that are not what they are taken for.
    ("refused: steel under zinc", "--material galvanised-steel --etchant ferric-chloride"),
    ("refused: steel under zinc", "--material 'zinc plated' --etchant copper-sulfate"),
    ("refused: chips burn", "--material magnesium --etchant sodium-hydroxide"),
    ("refused: is not in the tables", "--material lithium --etchant sodium-hydroxide"),
    ("refused: catches fire", "--material sodium --etchant sodium-hydroxide"),
    ("refused: hydrofluoric acid", "--material titanium --etchant ferric-chloride"),
    ("refused: cadmium is poisonous", "--material cadmium --etchant ferric-chloride"),
    ("refused: scars the lungs", "--material 'beryllium copper' --etchant ferric-chloride"),
    ("refused: lead is poisonous", "--material lead --etchant ferric-chloride"),
    ("refused: leaves lead in bath", "--material CuZn39Pb3 --etchant ferric-chloride"),
    ("refused: under a plating", "--material 'chrome plated' --etchant ferric-chloride"),
    ("refused: whose baths and gases differ", "--material steel --etchant ferric-chloride"),
    ("refused: name for many steels", "--material stainless --etchant ferric-chloride"),
    ("refused: zinc castings", "--material zamak --etchant copper-sulfate"),
    ("refused: eaten through", "--material 'kitchen foil' --etchant sodium-hydroxide"),
    ("refused: under a finish", "--material anodised-aluminium --etchant sodium-hydroxide"),
    ("refused: smuts heavily", "--material 2024 --etchant sodium-hydroxide"),
    ("refused: harm the unborn child", "--material nickel --etchant ferric-chloride"),
    ("refused: ammonia can explode", "--material 'sterling silver' --etchant ferric-chloride"),
    ("refused: 'magnesium' is meant, it is refused", "--material magnezium --etchant sodium-hydroxide"),
    ("refused: the table has", "--material unobtainium --etchant sodium-hydroxide"),
    # A metal and a bath that are each known and not a pair.
    ("ferric-chloride-on-zinc", "--material zinc --etchant ferric-chloride"),
    ("caustic-on-zinc", "--material zinc --etchant 'caustic soda'"),
    ("acid-chloride-on-light-metal", "--material aluminium --etchant cupric-chloride"),
    ("acid-chloride-on-light-metal", "--material zinc --etchant CuCl2"),
    ("persulfate-on-aluminium", "--material aluminium --etchant sodium-persulfate"),
    ("persulfate-on-zinc-and-steel", "--material zinc --etchant ammonium-persulfate"),
    ("persulfate-on-zinc-and-steel", "--material mild-steel --etchant sodium-persulfate"),
    ("caustic-on-brass", "--material brass --etchant lye"),
    ("caustic-on-copper-and-steel", "--material mild-steel --etchant lye"),
    ("salted-sulfate-on-zinc", "--material zinc --etchant 'copper sulfate with salt'"),
    ("cupric-chloride-on-steel", "--material mild-steel --etchant cupric-chloride"),
    ("refused: is not in the table", "--material 6061 --etchant FeCl3 --strength 40degBe"),
    ("ceiling-temperature", "--material 6082 --etchant lye --temperature 80degC --rate 20um/min"),
    ("ceiling-temperature", "--material 316 --etchant FeCl3 --temperature 70degC --rate 20um/min"),
    ("ceiling-temperature", "--material 'mild steel' --etchant 'saline sulphate' --temperature 60degC --rate 9um/min"),
    ("salted-sulfate-on-stainless", "--material 316 --etchant saline-sulfate"),
    ("refused: three times the aluminium", "--material aluminium --etchant 'lye with gluconate'"),
    ("refused: no published rate", "--material copper --etchant 'ferric chloride and citric acid'"),
    ("refused: many sheets of it hold lead", "--material 'German silver' --etchant ferric-chloride"),
    ("refused: a name for many alloys", "--material 'phosphor bronze' --etchant ferric-chloride"),
    # Electrolytes that are refused.
    ("refused: by a current they give off brown", "--material copper --etchant electrolytic --electrolyte 'sodium nitrate'"),
    ("refused: by a current they give off brown", "--material mild-steel --etchant electrolytic --electrolyte 'sodium chlorate'"),
    ("refused: spray acid mist", "--material copper --etchant electrolytic --electrolyte 'battery acid'"),
    ("refused: not in the table of electrolytes", "--material zinc --etchant electrolytic --electrolyte NaOH"),
    # Paints under the beam.
    ("vinyl-under-the-beam", "--material aluminium --etchant sodium-hydroxide --resist 'contact paper'"),
    ("resist-unfit", "--material aluminium --etchant sodium-hydroxide --temperature 40degC --resist nail-polish"),
]  # fmt: skip

# Job files: expected, keys of [etch], [blank] and [bath] that replace the valve tag's.
JOBS = [
    ("ceiling-strength", {"etch": {"strength": "600 g/L", "temperature": "95 degC", "rate": "60 um/min"}}),
    ("ceiling-temperature", {"etch": {"temperature": "95 degC", "rate": "60 um/min"}}),
    ("ceiling-warmest", {"etch": {"temperature": "66 degC", "rise": "12 K", "rate": "9 um/min"}}),
    ("ceiling-rise", {"etch": {"rise": "58 K", "rate": "3 um/min"}}),
    ("ceiling-warmest", {"etch": {"temperature": "60 degC", "rise": "25 K", "rate": "9 um/min"}, "bath": {"cooled": True}}),
    ("ceiling-temperature", {"etch": {"etchant": "ferric-chloride", "strength": "120 g/L", "temperature": "90 degC", "rate": "60 um/min"}}),
    ("strong-ferric-chloride-on-aluminium", {"etch": {"etchant": "Ferric Chloride", "strength": "42 degBe", "rate": "20 um/min"}}),
    ("ceiling-temperature", {"blank": {"material": "304 stainless"}, "etch": {"etchant": "FeCl3", "strength": "40 degBe", "temperature": "85 degC", "rate": "60 um/min"}}),
    ("ceiling-temperature", {"blank": {"material": "copper"}, "etch": {"etchant": "sodium-persulfate", "strength": "250 g/L", "temperature": "70 degC", "rate": "20 um/min"}}),
    ("bath-bare", {"bath": {"volume": "20 mL", "tray": ["64 mm", "54 mm"]}}),
    ("ceiling-volume", {"bath": {"volume": "100 L"}}),
    ("bath-spent", {"bath": {"dissolved": "30 g/L"}}),
    ("nitric-acid", {"blank": {"material": "zinc"}, "etch": {"etchant": "nitric acid"}}),
    ("fluoride-bath", {"etch": {"etchant": "HF"}}),
    ("acid-with-peroxide", {"blank": {"material": "copper"}, "etch": {"etchant": "acid and peroxide"}}),
    ("caustic-on-zinc", {"blank": {"material": "Zn"}, "etch": {"etchant": "NaOH"}}),
    ("persulfate-on-aluminium", {"etch": {"etchant": "sodium persulphate"}}),
    ("refused: steel under zinc", {"blank": {"material": "galvanized steel"}, "etch": {"etchant": "ferric-chloride"}}),
    ("refused: chips burn", {"blank": {"material": "Magnesium"}}),
    ("refused: scars the lungs", {"blank": {"material": "beryllium-copper"}, "etch": {"etchant": "ferric-chloride"}}),
    ("refused: aluminium chips", {"etch": {"etchant": "drain cleaner"}}),
    ("refused: decomposes by itself", {"blank": {"material": "copper"}, "etch": {"etchant": "H2O2"}}),
    ("refused: the table has", {"etch": {"etchant": "sodium hydrosulfide"}}),
    ("refused: which caustic strips", {"resist": {"paint": "spray paint"}}),
    ("vinyl-under-the-beam", {"resist": {"paint": "contact paper"}}),
]  # fmt: skip

# Coupons in the shop book: expected, the job's [etch], the coupon's fields; the rate is the book's.
BOOK = [
    ("ceiling-temperature", {"temperature": "90 degC"}, {"temperature_degc": 90.0, "rate": 60.0}),
    ("ceiling-strength", {"strength": "450 g/L"}, {"strength_g_per_l": 450.0, "rate": 60.0}),
    ("ceiling-warmest", {"temperature": "66 degC", "rise": "14 K"}, {"temperature_degc": 66.0, "rate": 9.0}),
    ("ceiling-rise", {"rise": "40 K"}, {"rate": 3.0}),
    ("strong-ferric-chloride-on-aluminium", {"etchant": "ferric-chloride", "strength": "300 g/L"}, {"etchant": "ferric-chloride", "strength_g_per_l": 300.0, "rate": 20.0}),
]  # fmt: skip

_VALUE = '{{ value = {0}, unit = "{1}", kind = "measured", where = "coupon" }}'
_RATE = """
[[pairs.{pair}.rate]]
agitation = ["tray"]
temperature_degc = {degc}
strength_g_per_l = {strength}
temperature_range_degc = [15.0, {degc}]
strength_range_g_per_l = [30.0, {strength}]
scaled_grade = "B"
rate = {{ value = 60.0, unit = "um/min", kind = "measured", where = "coupon" }}
"""
_METAL = """
[materials.{ident}]
name = "our own sheet"
sort = "metal"
density = {{ value = {density}, unit = "g/cm3", kind = "measured", where = "scales" }}
molar_mass = {{ value = {mass}, unit = "g/mol", kind = "measured", where = "certificate" }}
"""
_BATH = """
[etchants.{ident}]
name = "{name}"
formula = "{formula}"
ready_made = false
molar_mass = {{ value = 40.0, unit = "g/mol", kind = "memory" }}
max_fraction = {{ value = 0.5, unit = "by weight", kind = "memory" }}
hazards = ["sodium-hydroxide"]
[etchants.{ident}.density]
c = [2000.0, 2000.0, 1.0, 0.0, 0.0]
kind = "memory"
"""


def _one(table, key, value, unit):
    return f"[{table}]\n{key} = " + _VALUE.format(value, unit) + "\n"


# A shop's own tables: words of the refusal, the file.
TABLES = [
    ("above the ceiling of 66 degC", _RATE.format(pair="aluminium.sodium-hydroxide", degc=90.0, strength=100.0)),
    ("above the ceiling of 150 g/L", _RATE.format(pair="aluminium.sodium-hydroxide", degc=40.0, strength=450.0)),
    ("above the ceiling of 43 degC", _RATE.format(pair="aluminium.ferric-chloride", degc=90.0, strength=150.0)),
    ("above the ceiling of 179.5 g/L", _RATE.format(pair="aluminium.ferric-chloride", degc=40.0, strength=500.0)),
    ("above the ceiling of 45 degC", _RATE.format(pair="copper.sodium-persulfate", degc=60.0, strength=250.0)),
    ("at least 415.1", _one("pairs.aluminium.sodium-hydroxide", "heat", 40.0, "kJ/mol")),
    ("at least 1.5", _one("pairs.aluminium.sodium-hydroxide", "gas_mol", 0.0, "mol/mol")),
    ("at most 25", _one("pairs.aluminium.sodium-hydroxide", "capacity_end", 160.0, "g/L")),
    ("at most 45", _one("etchants.sodium-persulfate", "decomposes", 70.0, "degC")),
    ("another substance", _one("materials.aluminium", "density", 0.27, "g/cm3")),
    ("ceilings is no table of the shop's", "[ceilings.bench]\nvolume = 1000\n"),
    ("is built in and cannot be replaced", "[refusals.nitric-acid]\nlevel = 'note'\n"),
    ("'magnesium' cannot be added", _METAL.format(ident="magnesium", density=1.74, mass=24.3)),
    ("'galvanised-sheet' cannot be added", _METAL.format(ident="galvanised-sheet", density=7.8, mass=55.9)),
    ("'aluminum' is aluminium here", _METAL.format(ident="aluminum", density=2.7, mass=26.98)),
    ("as light as this", _METAL.format(ident="our-sheet", density=2.7, mass=27.1)),
    ("as light as this", _METAL.format(ident="our-sheet", density=1.8, mass=24.4)),
    ("as light as this", _METAL.format(ident="our-sheet", density=4.5, mass=47.9)),
    ("an alloy of zinc", _METAL.format(ident="our-casting", density=6.7, mass=62.0)),
    ("'NaOH' is sodium-hydroxide here", _BATH.format(ident="our-lye", name="our lye", formula="NaOH")),
    ("'HF' cannot be added", _BATH.format(ident="our-etch", name="our etch", formula="HF")),
    ("'Drain cleaner' cannot be added", _BATH.format(ident="our-etch", name="Drain cleaner", formula="x")),
    ("'nitric-acid' cannot be added", _BATH.format(ident="nitric-acid", name="ours", formula="x")),
    ("'hydrogen-peroxide' cannot be added", _BATH.format(ident="hydrogen-peroxide", name="ours", formula="x")),
]  # fmt: skip
