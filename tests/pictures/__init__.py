"""Pictures that the tests look at, of invented sensors of a glasshouse workshop.

``python -m tests.pictures`` draws the images that they are compared with anew; look at each of
them before they are kept.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

import thermofit as tf
from thermofit import report
from thermofit.circuit import Converter, Divider
from thermofit.errors import ThermofitWarning
from thermofit.thermal import StepResponse, fit_step, read_log

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["AIR", "DIVIDER", "FOLDER", "PICTURES", "SLANTED", "drawn", "fan_log", "inlet_fit",
           "readings", "save_ink", "sensors", "two_baths"]  # fmt: skip

FOLDER = Path(__file__).parent
DEMO = Path(tf.__file__).parent.parent / "docs" / "demo"

AIR = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="air"), r25_tol_pct=2.0, b_tol_pct=1.0)
SLANTED = tf.Tolerance.of(dt_k=0.5, dt_range_c=(0, 60))
DIVIDER = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
COARSE = Divider(pullup_ohm=1e3, supply_v=3.3, converter=Converter(bits=8))

Array = npt.NDArray[np.float64]


def readings(
    gamma: float, beta: float, t_c: Any = (0.0, 25.0, 60.0), u_t_k: float = 0.1, u_pct: float = 0.3
) -> tf.Points:
    """Readings of an air sensor that is off by γ and β, without any error."""
    t = np.array(t_c)
    axis = 1.0 / (t + 273.15) - 1.0 / 298.15
    r_ohm = 10e3 * np.exp(gamma + (1.0 + beta) * 3977.0 * axis)
    return tf.Points(t, r_ohm, u_t_k=u_t_k, u_r_ohm=u_pct / 100.0 * r_ohm)


def sensors(count: int = 20) -> pd.DataFrame:
    import pandas as pd

    rng = np.random.default_rng(3)
    places = rng.normal(0.0, (0.012, 0.005), (count, 2))
    frames = [
        readings(gamma, beta, u_t_k=0.05, u_pct=0.1).to_frame().assign(sensor=f"S{number:02}")
        for number, (gamma, beta) in enumerate(places.tolist())
    ]
    return pd.concat(frames, ignore_index=True)


@cache
def two_baths() -> tf.Fit:
    p = tf.read_points(DEMO / "bath-readings.csv")
    ends = [0, -1]
    r_ohm = p.r_ohm[ends]
    return tf.characterise(tf.Points(p.t_c[ends], r_ohm, u_t_k=0.3, u_r_ohm=0.005 * r_ohm))


@cache
def inlet_fit() -> tf.Fit:
    p = tf.read_points(DEMO / "inlet-sensor.csv")
    known = tf.Points(p.t_c, p.r_ohm, u_t_k=0.1, u_r_ohm=0.002 * p.r_ohm)
    return tf.fit(known, equation="steinhart-hart")


@cache
def table_fit() -> tf.Fit:
    return tf.fit(tf.read_points("curves/ntc-47k-4108-3ec0fbe4.csv"), equation="log-polynomial-5")


@cache
def fan_log(name: str = "on") -> StepResponse:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        return fit_step(read_log(DEMO / f"fan-{name}-step.csv"), step_s=24.0)


@cache
def plan() -> Any:
    thermometer = tf.Thermometer.parse("0.5C")
    stirred = [tf.stirred_bath(t, thermometer, uniformity_k=0.2) for t in (40, 70)]
    kettle = tf.boiling_water(pressure_hpa=1005, probe="steam")
    meter = tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10")
    return tf.plan([tf.ice_point(), *stirred, kettle], meter, r25_ohm=10e3)


@cache
def substitutes() -> Any:
    return tf.substitutes(
        "ntc-10k-3977", (0, 60), candidates=["ntc-10k-3950", (10e3, 4050.0), (9.8e3, 3900.0)],
        unstated=tf.Tolerance.of(r25_pct=1, b_pct=1),
    )  # fmt: skip


@cache
def _checked() -> pd.DataFrame:
    return tf.check(sensors(), AIR)


def _check(gamma: float, beta: float, **how: Any) -> Any:
    return tf.check(readings(gamma, beta, **how), AIR)


@cache
def _band() -> Any:
    return tf.tolerance_band(AIR, np.arange(-40.0, 126.0, 5.0))


PICTURES: dict[str, Callable[[], Axes]] = {
    "curve-two-baths": lambda: report.curve_picture(two_baths()),
    "curve-inlet": lambda: report.curve_picture(inlet_fit()),
    "curve-table": lambda: report.curve_picture(table_fit()),
    "curve-platinum": lambda: report.curve_picture(tf.Curve.callendar_van_dusen(r0_ohm=100)),
    "residuals-two-baths": lambda: report.residuals_picture(two_baths()),
    "residuals-inlet": lambda: report.residuals_picture(inlet_fit()),
    "residuals-table": lambda: report.residuals_picture(table_fit()),
    "band-resistance": lambda: report.band_picture(_band()),
    "band-temperature": lambda: report.band_picture(_band(), quantity="temperature"),
    "plane-accept": lambda: report.plane_picture(_check(0.002, 0.001, u_t_k=0.05, u_pct=0.1)),
    "plane-reject": lambda: report.plane_picture(_check(0.035, 0.001)),
    "plane-cannot-tell": lambda: report.plane_picture(_check(0.017, 0.006)),
    "plane-coarse": lambda: report.plane_picture(_check(0.012, 0.006, u_t_k=1.0)),
    "plane-slanted": lambda: report.plane_picture(
        tf.check(readings(0.012, 0.006), AIR, tolerance=SLANTED), AIR
    ),
    "plane-one-temperature": lambda: report.plane_picture(_check(0.012, 0.0, t_c=[18.0]), AIR),
    "plane-line": lambda: report.plane_picture(
        tf.check(readings(0.012, 0.0), AIR.curve, r25_pct=1)
    ),
    "plane-many": lambda: report.plane_picture(_checked(), AIR),
    "plane-batch": lambda: report.plane_picture(tf.batch_tolerance(sensors(), AIR)),
    "divider-output": lambda: report.divider_picture(DIVIDER, AIR),
    "divider-resolution": lambda: report.divider_picture(DIVIDER, AIR, quantity="resolution"),
    "divider-coarse-output": lambda: report.divider_picture(COARSE, tf.family("ntc-100k-4311")),
    "divider-coarse-resolution": lambda: report.divider_picture(
        COARSE, tf.family("ntc-100k-4311"), quantity="resolution"
    ),
    "step-fan-on": lambda: report.step_picture(fan_log("on")),
    "step-fan-off": lambda: report.step_picture(fan_log("off")),
    "plan": lambda: report.plan_picture(plan()),
    "substitutes": lambda: report.substitutes_picture(substitutes()),
}  # fmt: skip


def drawn(name: str, *, laid_out: bool = True) -> Axes:
    """Draw a picture as it is without anybody's own settings."""
    from matplotlib import style

    with style.context("default"):
        ax = PICTURES[name]()
        figure = ax.figure.figure
        assert figure is not None
        if laid_out:
            figure.draw_without_rendering()
    return ax


def save_ink(ax: Axes, path: Path) -> None:
    """Write what is drawn, without any words.

    Letters and the room they take differ between releases of matplotlib; lines do not.
    """
    from matplotlib import style
    from matplotlib.text import Text
    from PIL import Image

    figure = ax.figure.figure
    assert figure is not None
    figure.set_layout_engine("none")
    figure.set_size_inches(7.0, 4.5)  # whole pixels, however they are rounded
    ax.set_position((0.02, 0.02, 0.96, 0.96))
    legend = ax.get_legend()
    if legend is not None:
        legend.set_visible(False)
    for one in (ax, *ax.child_axes):
        one.tick_params(which="both", labelbottom=False, labelleft=False, labelright=False)
    for words in figure.findobj(Text):
        words.set_visible(False)
    raw = io.BytesIO()
    with style.context("default"):
        figure.savefig(raw, dpi=50, format="png")
    with Image.open(raw) as image:
        image.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(path, optimize=True)
