"""The forms that a value of the job file may take, each read strictly into what the job holds.

A form reads what TOML gave, describes itself for the JSON Schema and for the reference page,
and refuses with one sentence per fault: it is the whole validation of its key.
"""

from stopout.jobs.forms.amounts import (
    ANY_MM,
    FARTHEST,
    Amount,
    AxesMeasured,
    MotorStep,
    Row,
    WithSpread,
)
from stopout.jobs.forms.chosen import Named, Place, ShownPart
from stopout.jobs.forms.form import Form, WrongValueError, leaf_of
from stopout.jobs.forms.near import meant, nearest_word
from stopout.jobs.forms.plain import AutoOr, Count, Figure, Grid, Listed, OneOf, Switch, Text, YesNo
from stopout.jobs.forms.strengths import BathStrength, Dissolved

__all__ = [
    "ANY_MM",
    "FARTHEST",
    "Amount",
    "AutoOr",
    "AxesMeasured",
    "BathStrength",
    "Count",
    "Dissolved",
    "Figure",
    "Form",
    "Grid",
    "Listed",
    "MotorStep",
    "Named",
    "OneOf",
    "Place",
    "Row",
    "ShownPart",
    "Switch",
    "Text",
    "WithSpread",
    "WrongValueError",
    "YesNo",
    "leaf_of",
    "meant",
    "nearest_word",
]
