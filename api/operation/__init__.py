"""What those who run the service see of it: request ids, logs, metrics, health.

It knows neither the store nor the services: what it tells of them it is given.
"""

from api.operation.health import Health, Part, UnwellError
from api.operation.ids import current_request, request_id_from, take_request
from api.operation.logs import adopt, set_up_logs
from api.operation.metrics import Metrics, QueueFigures
from api.operation.probe import Probe

__all__ = [
    "Health",
    "Metrics",
    "Part",
    "Probe",
    "QueueFigures",
    "UnwellError",
    "adopt",
    "current_request",
    "request_id_from",
    "set_up_logs",
    "take_request",
]
