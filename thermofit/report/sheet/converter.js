(() => {
  "use strict";
  document.documentElement.classList.add("scripted");
  const section = document.getElementById("convert");
  if (!section) return;
  const { curve, converter, coverage } = JSON.parse(
    document.getElementById("thermofit-sheet").textContent
  ).content;
  const ZERO_C = 273.15;
  const INV_T0 = 1 / 298.15;
  const c = curve.coefficients;

  // Mathematics of the equations, as in the library: value, slope and gradient of 1/T over ln R,
  // or of ln R over 1/T.  A gradient is with respect to the logarithm of what is fitted so.

  const poly = (x, p) => p.reduceRight((sum, each) => sum * x + each, 0);
  const derived = (p) => p.slice(1).map((each, k) => each * (k + 1));
  const powers = (x, n) => Array.from({ length: n }, (_, k) => x ** k);

  const inLogR = () => {
    const shift = Math.log(curve.settings.r_ref_ohm);
    return {
      value: (x) => poly(x - shift, c),
      slope: (x) => poly(x - shift, derived(c)),
      gradient: (x) => powers(x - shift, c.length),
    };
  };
  const inInverseT = () => {
    const shift = Math.log(curve.settings.r_ref_ohm);
    return {
      value: (x) => poly(x, c) + shift,
      slope: (x) => poly(x, derived(c)),
      gradient: (x) => powers(x, c.length),
    };
  };
  const around25 = () => {
    const p = [0, ...c.slice(1)];
    return {
      value: (x) => Math.log(c[0]) + poly(x - INV_T0, p),
      slope: (x) => poly(x - INV_T0, derived(p)),
      gradient: (x) => powers(x - INV_T0, c.length),
    };
  };
  const cubic = () => ({
    value: (x) => c[0] + x * (c[1] + c[2] * x * x),
    slope: (x) => c[1] + 3 * c[2] * x * x,
    gradient: (x) => [1, x, x ** 3],
  });
  const shifted = () => ({
    value: (x) => Math.log(c[0]) + (c[1] * x) / (1 + c[2] * x),
    slope: (x) => c[1] / (1 + c[2] * x) ** 2,
    gradient: (x) => {
      const part = x / (1 + c[2] * x);
      return [1, part, -c[1] * part ** 2];
    },
  });
  const platinum = () => {
    const cold = curve.settings.cvd_c;
    const celsius = (x) => 1 / x - ZERO_C;
    const ratio = (t) => 1 + t * (c[1] + c[2] * t) + (t < 0 ? cold * (t - 100) * t ** 3 : 0);
    return {
      value: (x) => Math.log(c[0]) + Math.log(ratio(celsius(x))),
      slope: (x) => {
        const t = celsius(x);
        const rise = c[1] + 2 * c[2] * t + (t < 0 ? cold * t * t * (4 * t - 300) : 0);
        return -rise / (x * x * ratio(t));
      },
      gradient: (x) => {
        const t = celsius(x);
        return [1, t / ratio(t), (t * t) / ratio(t)];
      },
    };
  };
  const pieces = () => {
    const { t_c: t, r_ohm: r, node_b_k: b } = curve.nodes;
    const x = t.map((each) => 1 / (each + ZERO_C)).reverse();
    const y = r.map(Math.log).reverse();
    const slopes = [...b].reverse();
    const locate = (at) => {
      let k = 0;
      while (k < x.length - 2 && at >= x[k + 1]) k += 1;
      const step = x[k + 1] - x[k];
      return { k, step, s: (at - x[k]) / step };
    };
    return {
      value: (at) => {
        const { k, step, s } = locate(at);
        const left = slopes[k] * step;
        const right = slopes[k + 1] * step;
        const w = Math.min(Math.max(s, 0), 1);
        const rest = 1 - w;
        return (
          rest ** 2 * ((1 + 2 * w) * y[k] + w * left) +
          w ** 2 * ((1 + 2 * rest) * y[k + 1] - rest * right) +
          (s - w) * (s < 0 ? left : right)
        );
      },
      slope: (at) => {
        const { k, step, s } = locate(at);
        const w = Math.min(Math.max(s, 0), 1);
        return (
          (6 * w * (1 - w) * (y[k + 1] - y[k])) / step +
          (1 - w) * (1 - 3 * w) * slopes[k] +
          w * (3 * w - 2) * slopes[k + 1]
        );
      },
      gradient: () => [],
    };
  };
  const forms = {
    "beta": around25,
    "bent-beta": around25,
    "steinhart-hart": cubic,
    "log-polynomial": inLogR,
    "inverse-polynomial": inInverseT,
    "shifted-exponential": shifted,
    "callendar-van-dusen": platinum,
    "tabulated": pieces,
  };
  const form = forms[curve.equation.replace(/-\d+$/, "")]();
  const direct = curve.explicit === "temperature";

  // Newton's method; a step that leaves the bracket is replaced by halving it.
  const solve = (target) => {
    let [low, high] = converter.inv_t;
    if (low > high) [low, high] = [high, low];
    const sign = form.value(high) > form.value(low) ? 1 : -1;
    let x = 0.5 * (low + high);
    for (let step = 0; step < 200; step += 1) {
      const miss = form.value(x) - target;
      if (sign * miss <= 0) low = x;
      if (sign * miss >= 0) high = x;
      let next = x - miss / form.slope(x);
      if (!(next >= low && next <= high)) next = 0.5 * (low + high);
      const done = Math.abs(next - x) <= 2e-16 * x;
      x = next;
      if (done) break;
    }
    return x;
  };

  const scale = c.map((each, k) => (curve.logarithmic[k] ? each : 1));
  const uncertainty = (gradient) => {
    if (!curve.covariance) return NaN;
    let sum = 0;
    curve.covariance.forEach((row, i) => {
      row.forEach((cov, j) => {
        sum += (gradient[i] * (cov / (scale[i] * scale[j]))) * gradient[j];
      });
    });
    return Math.sqrt(sum);
  };

  // The coverage factor between its places, by the barycentric formula.
  const factor = (share) => {
    const at = converter.shares;
    if (at.length === 1) return Math.exp(converter.ln_factors[0]);
    let over = 0;
    let under = 0;
    for (let k = 0; k < at.length; k += 1) {
      if (share === at[k]) return Math.exp(converter.ln_factors[k]);
      const end = k === 0 || k === at.length - 1 ? 0.5 : 1;
      const weight = ((k % 2 ? -1 : 1) * end) / (share - at[k]);
      over += weight * converter.ln_factors[k];
      under += weight;
    }
    return Math.exp(over / under);
  };

  const convert = (ohm, percent) => {
    const lnR = Math.log(ohm);
    const invT = direct ? form.value(lnR) : solve(lnR);
    const at = direct ? lnR : invT;
    const b = direct ? 1 / form.slope(at) : form.slope(at);
    const kelvin = 1 / (invT * invT * Math.abs(b));
    const own = uncertainty(form.gradient(at)) * (direct ? Math.abs(b) : 1) * kelvin;
    const u = percent === null ? own : Math.hypot(own, (percent / 100) * kelvin);
    const share = percent === null ? 1 : own > 0 ? (own / u) ** 4 : 0;
    const half = factor(share) * u;
    const t = 1 / invT - ZERO_C;
    return { t, u, low: t - half, high: t + half };
  };

  // What people type.

  class Unreadable extends Error {}
  const tidy = (text) =>
    text.replace(/[\s\u00a0\u2009\u202f]/g, "").replace(/\u2212/g, "-").replace(/\u2126/g, "Ω");
  const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?/;
  const PREFIX = { "": 1, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9 };

  const number = (text) => {
    if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(text)) {
      throw new Unreadable(
        `${text} may mean ${text.replace(",", ".")} or ${text.replace(",", "")}; write it without the comma`
      );
    }
    return Number(text.replace(",", "."));
  };
  const ohms = (typed) => {
    const text = tidy(typed);
    const unreadable = new Unreadable(`${typed.trim()} is no resistance; write it as 4.7k, 4k7 or 4700`);
    const code = /^([+-]?\d+)([RrkKMG])(\d+)$/.exec(text);
    let value;
    if (code) {
      value = Number(`${code[1]}.${code[3]}`) * (/[Rr]/.test(code[2]) ? 1 : PREFIX[code[2]]);
    } else {
      const found = NUMBER.exec(text);
      if (!found) throw unreadable;
      const after = text.slice(found[0].length);
      const rest = after === "." ? after : after.replace(/\.$/, "");
      const named = /(Ω|ohms?)$/i.test(rest);
      const stem = /^r$/i.test(rest) ? "" : rest.replace(/(Ω|ohms?)$/i, "");
      const bare = stem === "m" && !named;
      if (!Object.hasOwn(PREFIX, stem) || bare) throw unreadable;
      value = number(found[0]) * PREFIX[stem];
    }
    if (!(value > 0 && Number.isFinite(value))) {
      throw new Unreadable("A reading must be above zero and finite: a short or an open sensor has no temperature");
    }
    return value;
  };
  const percentage = (typed) => {
    const text = tidy(typed).replace(/%$/, "");
    if (text === "") return null;
    const found = NUMBER.exec(text);
    const value = found && found[0] === text ? number(text) : NaN;
    if (!(value >= 0 && Number.isFinite(value))) {
      throw new Unreadable(`${typed.trim()} is no uncertainty in percent; write it as 0.5, or leave it empty`);
    }
    return value;
  };

  // What the page answers.

  const [ohm, percent, answer] = ["ohm", "percent", "answer"].map((id) => document.getElementById(id));
  const minus = (text) => text.replace(/-/g, "−");
  const told = (result, withReading) => {
    const known = Number.isFinite(result.u);
    let places = known && result.u > 0 ? 1 - Math.floor(Math.log10(result.u)) : 3;
    places = Math.min(Math.max(places, 0), 6);
    const f = (value) => minus(value.toFixed(places));
    const first = `${f(result.t)} °C (${f(1.8 * result.t + 32)} °F)`;
    if (!known) return `${first}\nuncertainty unknown: the curve has no covariance`;
    const of = withReading ? "of the curve and of the reading" : "of the curve only, not of the reading";
    return `${first}\n${+(100 * coverage).toPrecision(12)} % between ${f(result.low)} and ${f(result.high)} °C: ${of}`;
  };
  const read = (field, how) => {
    try {
      const value = how(field.value);
      field.removeAttribute("aria-invalid");
      return value;
    } catch (error) {
      if (!(error instanceof Unreadable)) throw error;
      field.setAttribute("aria-invalid", "true");
      answer.textContent = error.message;
      return undefined;
    }
  };
  const respond = () => {
    for (const name of ["tC", "lowC", "highC"]) delete answer.dataset[name];
    answer.textContent = "";
    const u = read(percent, percentage);
    if (ohm.value.trim() === "") {
      ohm.removeAttribute("aria-invalid");
      return;
    }
    const r = read(ohm, ohms);
    if (r === undefined || u === undefined) return;
    const lnR = Math.log(r);
    if (lnR < converter.ln_r[0] || lnR > converter.ln_r[1]) {
      ohm.setAttribute("aria-invalid", "true");
      answer.textContent = `${ohm.value.trim()} is outside the curve's valid range of ${converter.range}`;
      return;
    }
    const result = convert(r, u);
    answer.dataset.tC = String(result.t);
    answer.dataset.lowC = String(result.low);
    answer.dataset.highC = String(result.high);
    answer.textContent = told(result, u !== null);
  };
  section.hidden = false;
  ohm.addEventListener("input", respond);
  percent.addEventListener("input", respond);
})();
