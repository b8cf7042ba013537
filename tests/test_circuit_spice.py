"""The circuits against a circuit simulator, ngspice, where it is installed."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider

NGSPICE = shutil.which("ngspice")

pytestmark = pytest.mark.skipif(
    NGSPICE is None, reason="ngspice is not installed (Debian: apt-get install ngspice)"
)

ADC = Converter(bits=12)
R_OHM = [100.0, 974.0, 3605.3, 10e3, 32555.0, 332e3]

# Each line of the netlist stands for one part; {n} is the number of the copy, {r} the sensor.
CIRCUITS: dict[str, tuple[Circuit, list[str]]] = {
    "pull-up with series, parallel and leakage": (
        Divider(pullup_ohm=4.7e3, supply_v=5.0, converter=ADC, series_ohm=150.0,
                parallel_ohm=47e3, leakage_a=1e-6),
        ["V{n} vcc{n} 0 5", "Rp{n} vcc{n} pin{n} 4700", "Rs{n} pin{n} m{n} 150",
         "Rt{n} m{n} 0 {r}", "Rq{n} m{n} 0 47000", "I{n} pin{n} 0 1u"],
    ),
    "pull-down with leakage out of the pin": (
        Divider(pulldown_ohm=10e3, supply_v=3.3, converter=ADC, series_ohm=1e3,
                parallel_ohm=220e3, leakage_a=-0.5e-6),
        ["V{n} vcc{n} 0 3.3", "Rp{n} pin{n} 0 10000", "Rs{n} pin{n} m{n} 1000",
         "Rt{n} vcc{n} m{n} {r}", "Rq{n} vcc{n} m{n} 220000", "I{n} 0 pin{n} 0.5u"],
    ),
    "constant current": (
        ConstantCurrent(current_a=20e-6, supply_v=24.0, converter=ADC, series_ohm=33.0,
                        parallel_ohm=1e6, leakage_a=0.2e-6),
        ["I{n} 0 pin{n} 20u", "Rs{n} pin{n} m{n} 33", "Rt{n} m{n} 0 {r}",
         "Rq{n} m{n} 0 1000000", "Il{n} pin{n} 0 0.2u"],
    ),
    "plain divider": (
        Divider(pullup_ohm=10e3, supply_v=12.0, converter=ADC),
        ["V{n} vcc{n} 0 12", "Rp{n} vcc{n} pin{n} 10000", "Rt{n} pin{n} 0 {r}"],
    ),
}  # fmt: skip


def simulated_v(lines: list[str], folder: Path) -> list[float]:
    """Operating point of a copy of the circuit for each resistance of the sensor."""
    assert NGSPICE is not None
    copies = range(len(R_OHM))
    parts = [line.format(n=n, r=R_OHM[n]) for n in copies for line in lines]
    prints = [f"print v(pin{n})" for n in copies]
    control = [".control", "set numdgt=12", "op", *prints, "quit", ".endc", ".end"]
    netlist = folder / "circuit.cir"
    netlist.write_text("\n".join(["* a sensor in its circuit", *parts, *control, ""]))
    run = subprocess.run(
        [NGSPICE, "-b", str(netlist)], capture_output=True, text=True, timeout=60, check=False
    )
    found = dict(re.findall(r"v\((pin\d+)\) = (\S+)", run.stdout))
    assert len(found) == len(R_OHM), run.stdout + run.stderr
    return [float(found[f"pin{n}"]) for n in copies]


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_simulator_finds_the_same_voltages(name: str, tmp_path: Path) -> None:
    circuit, lines = CIRCUITS[name]
    expected = simulated_v(lines, tmp_path)
    assert np.asarray(circuit.voltage(R_OHM)) == pytest.approx(expected, rel=1e-7)
    # And back: what the simulator gives is the sensor that was put in.
    position = np.array(expected) / circuit.supply_v * circuit.converter.steps
    assert circuit._sensor_at(position, circuit._nominal) == pytest.approx(R_OHM, rel=1e-5)
