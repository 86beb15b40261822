"""What hangs on a loudspeaker line, as it was entered: one answer for its loss and for its reading at the end."""

from dataclasses import dataclass

from stagefloor.calculations.loudspeaker import line_voltage
from stagefloor.job.cables import Circuit

ASSUMED_OHM = 8.0  # of a low-impedance line while nothing is entered: common practice, no source


@dataclass(frozen=True)
class Load:
    """The load of a line, ohm; on a 70 or 100 V line its voltage and the watts of its taps as well."""

    ohm: float
    volts: float | None = None
    watts: float | None = None
    assumed: bool = False


def entered_load(circuit: Circuit) -> Load | None:
    """The load as entered; None if it is not, or not enough of it.

    On a 70 or 100 V line Z = U^2 / P (line-impedance note) gives the ohms by the watts of the taps, or the other way
    round where only the ohms are entered.
    """
    if not circuit.load_line:
        return Load(circuit.load_ohm) if circuit.load_ohm else None
    volts = line_voltage(circuit.load_line)
    if circuit.load_w:
        return Load(volts**2 / circuit.load_w, volts, circuit.load_w)
    return Load(circuit.load_ohm, volts, volts**2 / circuit.load_ohm) if circuit.load_ohm else None


def load_for_loss(circuit: Circuit) -> Load | None:
    """The load that the loss of a line is worked out with: as entered, else 8 ohm, assumed.

    None for a 70 or 100 V line without its watts: nothing that could be assumed for it is common.
    """
    entered = entered_load(circuit)
    return entered if entered is not None or circuit.load_line else Load(ASSUMED_OHM, assumed=True)
