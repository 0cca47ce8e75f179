"""The forms that a value of the job file may take, each read strictly into what the job holds.

A form reads what TOML gave, describes itself for the JSON Schema and for the reference page,
and refuses with one sentence per fault. Attached to a field with `Annotated`, it is the field's
whole validation; the models in `model.py` only name the fields.
"""

from stopout.jobs.forms.amounts import FARTHEST, Amount, AxesMeasured, MotorStep, Row, WithSpread
from stopout.jobs.forms.chosen import Named, Place, ShownPart
from stopout.jobs.forms.form import Form, WrongValueError
from stopout.jobs.forms.near import meant, nearest_word
from stopout.jobs.forms.plain import AutoOr, Count, Figure, Listed, Switch, Text
from stopout.jobs.forms.strengths import BathStrength, Dissolved

__all__ = [
    "FARTHEST",
    "Amount",
    "AutoOr",
    "AxesMeasured",
    "BathStrength",
    "Count",
    "Dissolved",
    "Figure",
    "Form",
    "Listed",
    "MotorStep",
    "Named",
    "Place",
    "Row",
    "ShownPart",
    "Switch",
    "Text",
    "WithSpread",
    "WrongValueError",
    "meant",
    "nearest_word",
]
