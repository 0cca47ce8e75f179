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
from stopout.jobs.forms.chosen import Named, PlaceForm, ShownPart
from stopout.jobs.forms.form import Form, WrongValueError, leaf_of
from stopout.jobs.forms.near import meant, nearest_word
from stopout.jobs.forms.plain import (
    AutoOr,
    Count,
    Figure,
    GridForm,
    Listed,
    OneOf,
    Switch,
    TextForm,
    YesNo,
)
from stopout.jobs.forms.strengths import Dissolved, StrengthForm

__all__ = [
    "ANY_MM",
    "FARTHEST",
    "Amount",
    "AutoOr",
    "AxesMeasured",
    "Count",
    "Dissolved",
    "Figure",
    "Form",
    "GridForm",
    "Listed",
    "MotorStep",
    "Named",
    "OneOf",
    "PlaceForm",
    "Row",
    "ShownPart",
    "StrengthForm",
    "Switch",
    "TextForm",
    "WithSpread",
    "WrongValueError",
    "YesNo",
    "leaf_of",
    "meant",
    "nearest_word",
]
