"""A CAN adapter through python-can: slcan first, gs_usb and socketcan by the same path.

The only place that hands a frame to a bus, and it takes only what ``Outgoing`` can express.
python-can and pyserial are the optional extra ``live`` and are imported when a port is opened.
What the libraries hide is made plain here: any exception of theirs ends the port with a cause,
a frame that is shorter than it says is thrown away, and nothing runs in threads of theirs.
"""

from contextlib import suppress
from typing import Any, Final, Protocol

from steplatch.safety.catalogue import _

from .frames import Addressing, CanFrame
from .link import Sign
from .requests import Outgoing, can_frame
from .slcan_port import slcan_bus

INTERFACES: Final = ("slcan", "gs_usb", "socketcan")
BITRATE: Final = 500_000
BITRATES: Final = (500_000, 250_000)
"""ISO 15765-4 allows these two. A wrong one disturbs the vehicle's bus, so nothing is tried
out: 250 000 only after a person has said so."""
MAX_GARBLED: Final = 20
_PORT_WAIT_S: Final = 0.05
_ANSWERS: Final = {
    Addressing.BITS_11: (b"t7E", b"t7e"),
    Addressing.BITS_29: (b"T18DAF1", b"T18daf1"),
}
"""How the text of a frame begins that an ECU may have sent."""


class PortLost(Exception):  # noqa: N818 - it names what has happened
    """The port is no more; ``sign`` says how that was noticed."""

    def __init__(self, sign: Sign, detail: str = "") -> None:
        super().__init__(detail or sign.value)
        self.sign = sign


class Port(Protocol):
    """What a link needs of an adapter."""

    def send(self, out: Outgoing) -> None:
        """Send a question or a flow control. Raises PortLost."""

    def receive(self, wait_s: float) -> CanFrame | None:
        """The next frame, None when none came in time. Raises PortLost."""

    def close(self) -> None:
        """Close; never raises."""


class CanAdapter:
    """An open adapter. ``channel`` is its name: ``COM5``, ``/dev/ttyACM0``, ``can0``, or
    ``socket://127.0.0.1:PORT`` for a practice vehicle."""

    def __init__(
        self,
        channel: str,
        addressing: Addressing,
        interface: str = "slcan",
        bitrate: int = BITRATE,
    ) -> None:
        """Open it. Raises PortLost, ValueError for an interface or rate that is not offered."""
        if interface not in INTERFACES or bitrate not in BITRATES:
            raise ValueError(
                _("{interface} at {bitrate} is not offered", interface=interface, bitrate=bitrate)
            )
        try:
            import can
        except ImportError as error:
            raise PortLost(Sign.LIBRARY_MISSING, str(error)) from error
        self._can: Any = can
        self._addressing = addressing
        self._garbled = 0
        options: dict[str, Any] = {}
        if interface == "slcan":
            options["timeout"] = _PORT_WAIT_S  # at its default an idle port costs 3 % of a core
            if channel.startswith("socket://"):
                options["sleep_after_open"] = 0  # only real boards reset when opened
        try:
            if interface == "slcan":
                answers = _ANSWERS[addressing]
                self._bus: Any = slcan_bus(can, answers, channel, bitrate=bitrate, **options)
            else:
                self._bus = can.Bus(interface=interface, channel=channel, bitrate=bitrate)
        except Exception as error:
            raise PortLost(Sign.CANNOT_OPEN, str(error)) from error

    def send(self, out: Outgoing) -> None:
        """Send a question or a flow control. Raises PortLost."""
        frame = can_frame(out, self._addressing)
        message = self._can.Message(
            arbitration_id=frame.identifier, data=frame.data, is_extended_id=frame.extended
        )
        try:
            self._bus.send(message, timeout=1.0)
        except Exception as error:
            raise PortLost(Sign.FAILED, str(error)) from error

    def receive(self, wait_s: float) -> CanFrame | None:
        """The next frame, None when none came in time. Raises PortLost."""
        try:
            message = self._bus.recv(wait_s)
        except (ValueError, IndexError):  # broken text
            self._broken()
            return None
        except self._can.CanOperationError as error:
            if isinstance(error.__cause__, UnicodeDecodeError):  # stays for ever until flushed
                self._broken(flush=True)
                return None
            raise PortLost(Sign.FAILED, str(error)) from error
        except Exception as error:
            raise PortLost(Sign.FAILED, str(error)) from error
        if message is None or message.is_error_frame or message.is_remote_frame:
            return None
        if message.is_fd or len(message.data) != message.dlc:
            self._broken()
            return None
        self._garbled = 0
        return CanFrame(message.arbitration_id, bytes(message.data), message.is_extended_id)

    def close(self) -> None:
        """Close the channel and the port; never raises."""
        port: Any = getattr(self._bus, "serialPortOrig", None)
        behind: Any = getattr(port, "_socket", None)
        with suppress(Exception):
            self._bus.shutdown()
        for dead in (port, behind):  # slcan and pyserial leave one open whose other end has gone
            with suppress(Exception):
                dead.close()

    def _broken(self, flush: bool = False) -> None:
        self._garbled += 1
        if self._garbled > MAX_GARBLED:
            raise PortLost(Sign.GARBLED, _("what it sends cannot be read"))
        if flush and hasattr(self._bus, "flush"):
            try:
                self._bus.flush()
            except Exception as error:
                raise PortLost(Sign.FAILED, str(error)) from error


def serial_ports() -> list[tuple[str, str]]:
    """The serial ports of this computer: name and description. Nothing is opened or sent.

    Raises PortLost where pyserial is missing.
    """
    try:
        from serial.tools import list_ports
    except ImportError as error:
        raise PortLost(Sign.LIBRARY_MISSING, str(error)) from error
    return sorted((port.device, str(port.description)) for port in list_ports.comports())
