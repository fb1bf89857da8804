"""Fits the six figures of the cooling law to the fourteen published coefficients of performance by least squares.

Six figures for fourteen values: what is left over shows how well one physical law holds dry and wet coils, hot and mild
outdoors, full and little load together. Run: python make_dx_fit.py (needs numpy and scipy); copy the line into dx_fit.toml.
"""
import csv

import numpy as np
from scipy.optimize import least_squares

cases = [{k: float(v) for k, v in row.items() if k != "case"} for row in csv.DictReader(open("dx_cooling_E100_E200.csv"))]


def ratio(p, c):
    efficiency, approach, room_w_k, capacity, per_outdoor, per_coil = p
    load = c["zone_load_kWh_from_balance"] / 672 * 1000
    sensible = (load - c["latent_gain_W"]) / load
    indoor, outdoor = c["indoor_drybulb_C"], c["outdoor_drybulb_C"]
    full = capacity * (1 + per_outdoor * (outdoor - 35) + per_coil * (indoor - 12)) / (1 + capacity * per_coil * sensible / room_w_k)
    coil = indoor - sensible * full / room_w_k
    hot = max(outdoor + approach, coil + 5)
    return efficiency * (coil + 273.15) / (hot - coil) * (1 - 0.229 * (1 - min(1, load / full)))


start = np.array([0.5, 20, 550, 7000, -0.001, 0.03])
bounds = ([0, 0, 50, 2000, -0.05, 0], [1, 60, 5000, 20000, 0.02, 0.2])
fits = [
    least_squares(lambda p: [ratio(p, c) / c["COP"] - 1 for c in cases],
                  start * (1 + 0.15 * np.random.default_rng(k).standard_normal(6)), bounds=bounds)
    for k in range(40)
]
print([float(f"{x:.6g}") for x in min(fits, key=lambda f: f.cost).x])
