"""What a plan says about the control that drives the machine."""

from __future__ import annotations

from stopout.values import Finding, Level, Machine

__all__ = ["control_findings"]


def control_findings(machine: Machine) -> list[Finding]:
    """Say what is not known of the control, and what that costs."""
    if machine.power_follows_speed is not None:
        return []
    return [
        Finding(
            code="power-way-unknown",
            level=Level.CAUTION,
            message=(
                "machine.power_follows_speed is left out, so outlines run at the slow speed of "
                "their sharpest corner, which gives an even dose on any control"
            ),
            remedy=(
                "Burn the two lines of docs/how-to/set-up-a-control.md on scrap and give true, "
                '"control" or false: most outlines then run several times as fast.'
            ),
        )
    ]
