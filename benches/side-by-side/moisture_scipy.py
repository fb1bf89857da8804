"""The drying wall of `crates/moisture/examples/side_by_side.rs` in the hands of SciPy's BDF, on the same discrete equations.

Usage: python moisture_scipy.py FOLDER   (numpy and scipy; FOLDER holds moisture_ours.csv as written by the example)

Both sides state 40 even cells of one material with two faces, the same storage, vapour and liquid laws, the same films, day
and night by turns for 30 days. Unknowns are temperature and moisture potential; SciPy gets the rates by inverting each
node's own 2 x 2 capacity, and the block-tridiagonal pattern of the Jacobian. The reference is SciPy's own Radau run at
rtol 1e-8. Error: root mean square of the wall's water at the sixty half-day ends, kg/m2.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags, kron

N, THICKNESS, PERIODS, PERIOD_S = 40, 0.1, 60, 43_200.0
DX = THICKNESS / N
P0, RV, ZERO, RHO_W = 1.0e4, 287.042 / 0.621945, -273.15, 1000.0
CW, CV, H0 = 4186.0, 1860.0, 2.501e6
# A trial state may overshoot; BDF then rejects the step, as it should.
np.seterr(all="ignore")
DRIEST, FILM, SKIN, SKIN_HEAT = -12.5, 0.02, 1e-6, 200.0
SATURATION, SCALE, EXPONENT = 200.0, 2e5, 1.6
CAPACITY, CONDUCTIVITY, MU, DIFFUSIVITY = 1600.0 * 850.0, 0.6, 12.0, 2e-9


def saturation(t):
    over_water = 610.5 * np.exp(17.269 * t / (237.3 + t))
    over_ice = 610.5 * np.exp(21.875 * t / (265.5 + t))
    return np.where(t >= 0.0, over_water, over_ice)


def states(t, u):
    """Suction, humidity, vapour pressure, water content (kg/m3) and its slope."""
    low = np.minimum(u, 0.0)
    suction = P0 * np.expm1(-low)
    humidity = np.exp(-suction / (RHO_W * RV * (t - ZERO)))
    x = np.maximum(suction / SCALE, 0.0)
    power = x ** EXPONENT
    base = 1.0 + power
    water = SATURATION * base ** (1.0 / EXPONENT - 1.0)
    slope_s = SATURATION * (1.0 - EXPONENT) * base ** (1.0 / EXPONENT - 2.0) * np.where(x > 0, power / np.maximum(x, 1e-300), 0.0) / SCALE
    slope_u = slope_s * -(suction + P0)
    over = u > 0.0
    extra = max(0.01 * SATURATION, 0.1)
    water = np.where(over, SATURATION + extra * np.maximum(u, 0.0), water)
    slope_u = np.where(over, extra, slope_u)
    return humidity * saturation(t), water, slope_u


def rates(day, y):
    t, u = y[0::2], y[1::2]
    pv, water, slope = states(t, u)
    width = np.full(N + 2, DX)
    mass, mass_u = water * width, slope * width
    heat = np.full(N + 2, CAPACITY * DX)
    for face in (0, N + 1):
        heat[face] = SKIN_HEAT
        mass_u[face] = FILM if u[face] > 0 else SKIN
        mass[face] = FILM * max(u[face], 0.0) + SKIN * (min(u[face], 0.0) - DRIEST)
    permeability = 26.1e-6 / (RV * (t - ZERO)) / MU
    half = np.full(N + 2, 0.5 * DX)
    half[0] = half[-1] = 0.0
    distance = half[:-1] + half[1:]
    vapour = (pv[:-1] - pv[1:]) / (half[:-1] / permeability[:-1] + half[1:] / permeability[1:])
    content = np.where(np.arange(N + 2) % (N + 1) == 0, np.minimum(water, SATURATION), water)
    liquid = DIFFUSIVITY * (content[:-1] - content[1:]) / distance
    upstream = lambda g: np.where(g > 0, t[:-1], t[1:])
    flow_w = vapour + liquid
    flow_h = (
        CONDUCTIVITY / distance * (t[:-1] - t[1:])
        + vapour * (H0 + CV * upstream(vapour))
        + liquid * CW * upstream(liquid)
    )
    into_w, into_h = np.zeros(N + 2), np.zeros(N + 2)
    into_w[:-1] -= flow_w
    into_w[1:] += flow_w
    into_h[:-1] -= flow_h
    into_h[1:] += flow_h
    sides = [(0, 20.0, 1100.0, 8.0, 2.5e-8, 0.0)]
    sides.append((N + 1, 12.0 if day else 4.0, 700.0, 18.0, 1e-7, 150.0 if day else 0.0))
    for node, air, pa, film, film_v, sun in sides:
        g = film_v * (pa - pv[node])
        into_w[node] += g
        into_h[node] += film * (air - t[node]) + sun + g * (H0 + CV * (air if g > 0 else t[node]))
        if mass[node] > FILM:
            run = (mass[node] - FILM) / 60.0
            into_w[node] -= run
            into_h[node] -= run * CW * t[node]
    du = into_w / mass_u
    dt = (into_h - CW * t * into_w) / (heat + CW * mass)
    out = np.empty_like(y)
    out[0::2], out[1::2] = dt, du
    return out


def total(y):
    t, u = y[0::2], y[1::2]
    _, water, _ = states(t, u)
    faces = [FILM * max(u[k], 0.0) + SKIN * (min(u[k], 0.0) - DRIEST) for k in (0, N + 1)]
    return DX * water[1:-1].sum() + sum(faces)


def start():
    """Every cell at 120 kg/m3; faces in balance with it."""
    low, high = -12.0, 0.0
    for _ in range(200):
        u = 0.5 * (low + high)
        low, high = (u, high) if states(np.array([10.0]), np.array([u]))[1][0] < 120.0 else (low, u)
    y = np.empty(2 * (N + 2))
    y[0::2], y[1::2] = 10.0, u
    return y


def run(method, rtol, pattern):
    y, ends, calls = start(), [], 0
    begin = time.process_time()
    for k in range(PERIODS):
        s = solve_ivp(
            lambda _, y, day=(k % 2 == 0): rates(day, y),
            (0.0, PERIOD_S), y, method=method, rtol=rtol, atol=rtol * np.tile([1.0, 0.1], N + 2),
            jac_sparsity=pattern, t_eval=[PERIOD_S], first_step=60.0,
        )
        if not s.success:
            raise SystemExit(f"{method} at {rtol}: {s.message}")
        y = s.y[:, -1]
        calls += s.nfev
        ends.append(total(y))
    return time.process_time() - begin, calls, np.array(ends)


def main():
    folder = Path(sys.argv[1])
    pattern = kron(diags([1.0, 1.0, 1.0], [-1, 0, 1], shape=(N + 2, N + 2)), np.ones((2, 2)), format="csc")
    _, _, reference = run("Radau", 1e-8, pattern)
    error = lambda ends: float(np.sqrt(np.mean((np.array(ends) - reference) ** 2)))
    rows = []
    for line in (folder / "moisture_ours.csv").read_text().splitlines():
        cells = [float(c) for c in line.split(",")]
        rows.append(("ours", cells[0], error(cells[3:]), cells[1], int(cells[2])))
    for rtol in (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 1e-5):
        seconds, calls, ends = run("BDF", rtol, pattern)
        rows.append(("scipy BDF", rtol, error(ends), seconds, calls))
    print("who,tolerance,error kg/m2,seconds,steps or calls")
    for row in rows:
        print(",".join(str(c) for c in row))


main()
