"""A known-good twin in the same water: its resistance tells the temperature."""

from __future__ import annotations

from dataclasses import replace

from thermofit.baths.bath import KEEP_METER_DRY, SCALDING, Bath
from thermofit.baths.by_thermometer import SCALDS_C, refuse_not_liquid
from thermofit.budget import Budget, Contribution, require_number
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.tolerance.band import tolerance_band

__all__ = ["twin_bath"]


def twin_bath(
    twin: Curve | Family,
    resistance: Budget,
    *,
    uniformity_k: float,
    pressure_hpa: float | None = None,
    liquid: str = "water",
) -> Bath:
    """Take a stirred bath at what a known-good twin beside the sensor says.

    Parameters
    ----------
    twin : Curve or Family
        The curve of the twin, with its covariance, where it was characterised; else the
        family it belongs to, whose tolerance stands for what is not known of the twin.
    resistance : Budget
        Resistance of the twin in ohms, from `Meter.measure`.
    uniformity_k : float
        Limit ± of the difference between the places of sensor and twin, drift while both are
        read included, in kelvin.
    pressure_hpa : float, optional
        As for `stirred_bath`.
    liquid : str
        Of "water" it is checked that it is liquid.

    Returns
    -------
    Bath

    Raises
    ------
    InputError
        A curve without covariance, a family without a tolerance of R25 or of ratios only, a
        budget that is not one of ohms, water that is not liquid, or a negative uniformity.
    ExtrapolationError
        A resistance outside the valid range of the twin's curve.

    Notes
    -----
    T = T_twin(R).  Each contribution to R goes to kelvin with its sign, by
    ∂T/∂R = 1/(R·α), negative for an NTC: a reading too high makes the bath too cold.  It
    keeps its label `shared`.  `Budget.covariance` of the sensor's resistance, read in the
    same range, with this temperature is therefore negative for an NTC; in the difference
    between the temperature that the sensor's own curve gives and that of the bath, the error
    of the range cancels where sensor and twin have the same R and α; for an error in
    proportion to the reading, the same α is enough.

    A tolerance is a rectangular contribution (JCGM 100, 4.3.7): the larger of the two
    reading errors at the limits of `tolerance_band`.  Errors of the curve and of the tolerance
    have no label: at two temperatures they are neither one error nor independent ones, so
    they count as independent.  Several readings of one twin at one temperature belong in one
    `Meter.measure`.  Self-heating is not corrected: a twin of the sensor's type that is read
    in the same range warms itself as much as the sensor does.

    Examples
    --------
    A new spare hangs in the jug beside the suspect sensor of a glasshouse (invented readings).

    >>> from dataclasses import replace
    >>> import thermofit as tf
    >>> spare = replace(tf.family("ntc-10k-3977"), r25_tol_pct=1.0)
    >>> meter = tf.Meter.parse("0.8%+3 @4k/1")
    >>> bath = twin_bath(spare, meter.measure(2987.0), uniformity_k=0.1)
    >>> print(bath)
    stirred bath, water, by a twin
    contribution               ±  distribution  divisor      u  unit  sensitivity  effect / K  dof
    meter accuracy            27   rectangular    1.732     16     Ω    -0.009047        0.14    ∞
    meter resolution        0.50   rectangular    1.732   0.29     Ω    -0.009047      0.0026    ∞
    tolerance of the twin   0.52   rectangular    1.732   0.30     K            1        0.30    ∞
    uniformity of the bath  0.10   rectangular    1.732  0.058     K            1       0.058    ∞
    value 55.02 °C, standard uncertainty 0.34 K, effective degrees of freedom ∞
    ± 0.66 K at 95 % coverage (k = 1.96)
    meter accuracy: ±(0.8 % + 3 counts), a limit, taken as rectangular since no k is stated
    tolerance of the twin: ntc-10k-3977: R(25 °C) ± 1 %, B ± 0.75 %
    ! Hot water and steam scald: keep hands and face away, and let it cool before emptying.
    ! Keep the meter, its probes and the bare ends of the sensor's leads dry.
    """
    require_number(uniformity_k, "uniformity_k", "K", least=0.0)
    if resistance.unit != "Ω":
        raise InputError(
            f"the twin was read in {resistance.unit!r}; give its resistance in Ω, as Meter.measure "
            "does"
        )
    curve = _usable_curve(twin)
    r_ohm = resistance.value
    t_c = curve.temperature(r_ohm, strict=True)
    kelvin_per_ohm = 1.0 / (r_ohm * curve.alpha(t_c))
    budget = Budget(
        t_c,
        "°C",
        [
            *(
                replace(part, sensitivity=part.sensitivity * kelvin_per_ohm)
                for part in resistance.contributions
            ),
            *_of_the_twin(twin, curve, r_ohm, t_c),
            Contribution("uniformity of the bath", uniformity_k),
        ],
        resistance.correlations,
    )
    if liquid == "water":
        refuse_not_liquid(t_c, budget.expanded_uncertainty(), pressure_hpa)
    return Bath(
        f"stirred bath, {liquid}, by a twin",
        budget,
        (SCALDING, KEEP_METER_DRY) if t_c > SCALDS_C else (KEEP_METER_DRY,),
    )


def _usable_curve(twin: Curve | Family) -> Curve:
    if isinstance(twin, Curve):
        if twin.covariance is None:
            raise InputError(
                f"the curve of the twin{_named(twin.id)} has no covariance, so that nothing is "
                "known of its uncertainty; characterise it with u_t_k and u_r_ohm, or give its "
                "family, which has a tolerance"
            )
        return twin
    if not isinstance(twin, Family):
        raise InputError(f"a twin is a Curve or a Family, not {twin!r}; tf.family(id) gives one")
    if twin.ratio_only:
        raise InputError(
            f"the family {twin.id!r} fixes ratios only and leaves R25 open; measure the twin at a "
            "known temperature first, and give the curve that characterises it"
        )
    if twin.r25_tol_pct is None:
        raise InputError(
            f"the family {twin.id!r} states no tolerance of R25, so that a part of it tells no "
            "temperature; state r25_tol_pct (dataclasses.replace), or give the twin's own curve"
        )
    return twin.curve


def _of_the_twin(
    twin: Curve | Family, curve: Curve, r_ohm: float, t_c: float
) -> list[Contribution]:
    parts = []
    if curve.covariance is not None:
        u_k = curve.temperature_interval(r_ohm).standard_uncertainty
        parts.append(
            Contribution("curve of the twin", u_k, k=1.0, dof=curve.dof, note=curve.id)
        )  # fmt: skip
    if isinstance(twin, Family):
        band = tolerance_band(twin, t_c)
        half_k = max(abs(float(band.dt_low_k)), abs(float(band.dt_high_k)))
        exact = "" if twin.b_tol_pct is not None else "; B taken as exact, as none is stated"
        parts.append(
            Contribution(
                "tolerance of the twin", half_k, "rectangular",
                note=f"{twin.id}: {twin.tolerance}{exact}",
            )
        )  # fmt: skip
    return parts


def _named(name: str) -> str:
    return f" {name!r}" if name else ""
