"""The contract: every word that the daemon and its adapters share, importable from here."""

from parchd.contract.adapters import (
    AdapterKind,
    Build,
    Intake,
    Notifier,
    Rejection,
    Services,
    Sink,
    Source,
    StopSignal,
)
from parchd.contract.charts import Chart, Limit, Line, Mark
from parchd.contract.commands import AskDaemon, Command, Do, Reply, Verdict
from parchd.contract.errors import (
    Action,
    ConfigError,
    DeliveryRefused,
    DeliveryRetry,
    ParchdError,
    Problem,
    RecipientGone,
    RegistryError,
    SinkUnavailable,
    SourceLost,
    Stopping,
    StoreError,
)
from parchd.contract.flags import Cause, Flag, worst
from parchd.contract.notices import AnswerLink, JsonValue, Notice, NoticeKind, Priority, Table
from parchd.contract.options import SECRET, Options, Secret
from parchd.contract.readings import Place, Reading, StoredReading
from parchd.contract.samples import Sample, SampleBatch, TimeSource, Unit

__all__ = [
    "Sample", "SampleBatch", "TimeSource", "Unit",
    "Reading", "StoredReading", "Place", "Flag", "Cause", "worst",
    "Source", "Intake", "StopSignal", "Sink", "Rejection", "Notifier", "Notice", "NoticeKind", "Priority", "Table",
    "JsonValue", "AnswerLink", "Chart", "Line", "Limit", "Mark",
    "Command", "Do", "Reply", "Verdict", "AskDaemon",
    "AdapterKind", "Build", "Services", "Options", "Secret", "SECRET",
    "ParchdError", "Action", "ConfigError", "Problem", "RegistryError", "SourceLost", "SinkUnavailable",
    "DeliveryRetry", "DeliveryRefused", "RecipientGone", "StoreError", "Stopping",
]  # fmt: skip
