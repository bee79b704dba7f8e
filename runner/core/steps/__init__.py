"""The kinds of step that a procedure is made of: each is one file here, and this is the list."""

from .act import ActStep
from .ask import AskStep
from .end import EndStep
from .gun import GunStep
from .hold import HoldStep
from .judge import JudgeStep
from .kept import KeptStep
from .look import LookStep
from .read import ReadStep
from .report import ReportStep
from .reset import ResetStep
from .sign import SignStep
from .spray import SprayStep
from .temperature import TemperatureStep
from .wait import WaitStep

KINDS = (
    LookStep,
    AskStep,
    ActStep,
    ReadStep,
    KeptStep,
    TemperatureStep,
    GunStep,
    SprayStep,
    WaitStep,
    HoldStep,
    JudgeStep,
    SignStep,
    ReportStep,
    ResetStep,
    EndStep,
)

__all__ = [
    "KINDS",
    "ActStep",
    "AskStep",
    "EndStep",
    "GunStep",
    "HoldStep",
    "JudgeStep",
    "KeptStep",
    "LookStep",
    "ReadStep",
    "ReportStep",
    "ResetStep",
    "SignStep",
    "SprayStep",
    "TemperatureStep",
    "WaitStep",
]
