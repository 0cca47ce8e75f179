"""What the renderer says when it gives up does not reach the person."""

from __future__ import annotations

import os

import pytest
import resvg_py

from stopout.artwork.renderer import rendered
from stopout.errors import ArtworkError


class PanicException(BaseException):
    pass


@pytest.mark.parametrize("fault", [PanicException("at line 9"), ValueError("no root")])
def test_a_panic_is_a_refusal_in_our_words_only(fault, monkeypatch, capfd):
    def gives_up(**options):
        os.write(2, b"thread panicked at src/lib.rs:9\n")
        raise fault

    monkeypatch.setattr(resvg_py, "svg_to_bytes", gives_up)
    with pytest.raises(ArtworkError, match=r"^simplify it$"):
        rendered("simplify it", svg_string="<svg/>")
    assert capfd.readouterr().err == ""
    os.write(2, b"heard again\n")
    assert capfd.readouterr().err == "heard again\n"


def test_an_interruption_is_no_refusal(monkeypatch):
    def interrupted(**options):
        raise KeyboardInterrupt

    monkeypatch.setattr(resvg_py, "svg_to_bytes", interrupted)
    with pytest.raises(KeyboardInterrupt):
        rendered("simplify it", svg_string="<svg/>")
