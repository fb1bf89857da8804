"""The box of `side_by_side.rs` in the hands of SciPy's stiff solvers, at the kernel's own error.

Usage: python network_scipy.py FOLDER   (numpy and scipy; FOLDER as written by the example)

Both sides read the same network and the same outdoor readings. The reference is the network cut into many finite
volumes and carried from hour to hour exactly (eigenvectors; the outdoor temperature is straight between readings,
so nothing is approximated in time). Error is the root mean square over the hourly air temperatures of the year
after the first 21 days. SciPy gets the coarsest mesh of a list whose own error, exact in time, is below half the
kernel's, then ever tighter tolerances until the error of the whole is no greater than the kernel's;
the time at equal error is read between the last two.

Times of this side are processor times of one thread, because a run lasts seconds and a busy machine would be counted
against it; the kernel's are medians of runs of a few milliseconds, which a busy machine rarely interrupts.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import math
import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import coo_matrix, diags, identity
from scipy.sparse.linalg import splu

SETTLE_H = 21 * 24


def read_network(folder):
    facts, elements = {}, []
    for line in (folder / "network.csv").read_text().splitlines():
        cells = line.split(",")
        if cells[0] == "element":
            layers = [tuple(float(v) for v in layer.split()) for layer in cells[4:]]
            elements.append((float(cells[2]), None if cells[3] == "ground" else float(cells[3]), layers))
        else:
            facts[cells[0]] = float(cells[1])
    return facts, elements


def network(facts, elements, cells_a_depth):
    """Cells are spaced by the depth a daily wave reaches, at least one a layer.

    Returns capacities, the conductance matrix G (sparse) and the two drives: C dT/dt = G T + a T_out + b."""
    capacity, links, out, ground = [facts["air J/K"]], [], {}, {}
    out[0] = facts["leak W/K"]
    for area, film, layers in elements:
        behind, resistance = 0, 1.0 / facts["inside W/m2K"]
        for thickness, conductivity, density, heat in layers:
            depth = math.sqrt(conductivity / (density * heat) * 86400.0 / math.pi)
            cells = max(1, math.ceil(thickness / depth * cells_a_depth))
            half = thickness / cells / conductivity / 2.0
            for _ in range(cells):
                node = len(capacity)
                capacity.append(area * thickness / cells * density * heat)
                links.append((behind, node, area / (resistance + half)))
                behind, resistance = node, half
        if film is None:
            ground[behind] = area / resistance
        else:
            out[behind] = area / (resistance + 1.0 / film)
    n = len(capacity)
    diagonal, rows, columns, values = np.zeros(n), [], [], []
    for i, j, g in links:
        diagonal[i] -= g
        diagonal[j] -= g
        rows += [i, j]
        columns += [j, i]
        values += [g, g]
    a, b = np.zeros(n), np.zeros(n)
    for node, g in out.items():
        diagonal[node] -= g
        a[node] += g
    for node, g in ground.items():
        diagonal[node] -= g
        b[node] += g * facts["ground C"]
    matrix = coo_matrix((values, (rows, columns)), shape=(n, n)).tocsc() + diags(diagonal).tocsc()
    return np.array(capacity), matrix.tocsc(), a, b


def exact(facts, elements, outdoor, cells_a_depth):
    """Hourly air temperatures without an error in time."""
    capacity, matrix, a, b = network(facts, elements, cells_a_depth)
    root = np.sqrt(capacity)
    symmetric = matrix.toarray() / np.outer(root, root)
    rate, vectors = np.linalg.eigh(symmetric)
    to_mode = vectors.T
    a, b = to_mode @ (a / root), to_mode @ (b / root)
    air = vectors[0] / root[0]
    state = to_mode @ (root * facts["start C"])
    h = 3600.0
    decay = np.exp(rate * h)
    whole = np.expm1(rate * h) / rate
    ramp = (whole - h) / rate / h  # integral of exp(rate (h - s)) s / h
    before, found = outdoor[-1], []
    for after in outdoor:
        state = decay * state + whole * (a * before + b) + ramp * a * (after - before)
        found.append(air @ state)
        before = after
    return np.array(found)


def stiff(facts, elements, outdoor, cells_a_depth, method, rtol, atol):
    """Hourly air temperatures by `solve_ivp`, with the seconds it took and its count of right-hand sides."""
    capacity, matrix, a, b = network(facts, elements, cells_a_depth)
    jacobian = (diags(1.0 / capacity) @ matrix).tocsc()
    a, b = a / capacity, b / capacity
    hours = len(outdoor)
    readings = np.concatenate([[outdoor[-1]], outdoor, [outdoor[0]]]).tolist()

    def slope(t, y):
        at = t / 3600.0
        hour = min(int(at), hours)
        here = readings[hour]
        return jacobian @ y + a * (here + (at - hour) * (readings[hour + 1] - here)) + b

    start = np.full(len(capacity), facts["start C"])
    ends = np.arange(1, hours + 1) * 3600.0
    begin = time.process_time()
    result = solve_ivp(
        slope, (0.0, ends[-1]), start, method=method, t_eval=ends, rtol=rtol, atol=atol, jac=jacobian
    )
    seconds = time.process_time() - begin
    if not result.success:
        raise RuntimeError(result.message)
    return result.y[0], seconds, result.nfev


def trapezium(facts, elements, outdoor, cells_a_depth, steps_per_hour):
    """The same by hand: fixed steps, one sparse factorisation, each step one solve. Not a general solver."""
    capacity, matrix, a, b = network(facts, elements, cells_a_depth)
    step = 3600.0 / steps_per_hour
    begin = time.process_time()
    scaled = (diags(1.0 / capacity) @ matrix).tocsc() * (step / 2.0)
    factor = splu((identity(len(capacity)) - scaled).tocsc())
    explicit = (identity(len(capacity)) + scaled).tocsr()
    a, b = a / capacity * step, b / capacity * step
    state, before, found = np.full(len(capacity), facts["start C"]), outdoor[-1], []
    for after in outdoor:
        for k in range(steps_per_hour):
            middle = before + (k + 0.5) / steps_per_hour * (after - before)
            state = factor.solve(explicit @ state + a * middle + b)
        found.append(state[0])
        before = after
    return np.array(found), time.process_time() - begin


def main():
    folder = Path(sys.argv[1])
    repeats = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    facts, elements = read_network(folder)
    outdoor = np.loadtxt(folder / "outdoor.csv")
    reference = exact(facts, elements, outdoor, 120)

    def rms(air):
        return math.sqrt(np.mean((air - reference)[SETTLE_H:] ** 2))

    def nodes(cells):
        return len(network(facts, elements, cells)[0])

    rows = [f"reference,{nodes(120)} nodes,exact,,{rms(exact(facts, elements, outdoor, 60)):.1e} from half as many,,"]
    table = (folder / "times_ours.csv").read_text().splitlines()[1:]
    times = {tuple(line.split(",")[:2]): float(line.split(",")[2]) for line in table}
    alone = times["4", "1"]
    ours = rms(np.loadtxt(folder / "air_ours.csv"))
    for (steps, lanes), seconds in times.items():
        name = "air_ours.csv" if steps == "4" else f"air_ours_{steps}.csv"
        rows.append(f"kernel,modes,{steps} steps an hour,{lanes} lanes,{rms(np.loadtxt(folder / name)):.2e},"
                    f"{seconds:.6f},{seconds / alone:.2f}")
    floors = {cells: rms(exact(facts, elements, outdoor, cells)) for cells in (1, 2, 3, 4, 6, 8, 12, 16)}
    mesh = next(cells for cells, floor in floors.items() if floor < 0.5 * ours)
    for cells, floor in floors.items():
        rows.append(f"mesh alone,{nodes(cells)} nodes,exact,,{floor:.2e},,")
    print("\n".join(rows), flush=True)

    def row(who, cells, how, work, error, seconds):
        rows.append(f"{who},{nodes(cells)} nodes,{how},{work},{error:.2e},{seconds:.3f},{seconds / alone:.0f}")
        print(rows[-1], flush=True)

    for method in ("BDF", "Radau"):
        before = None
        for rtol in (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5):
            air, seconds, count = stiff(facts, elements, outdoor, mesh, method, rtol, rtol)
            error = rms(air)
            row(method, mesh, f"rtol {rtol:g} and atol {rtol:g} K", f"{count} right-hand sides", error, seconds)
            if error <= ours:
                again = [stiff(facts, elements, outdoor, mesh, method, rtol, rtol)[1] for _ in range(repeats - 1)]
                middle = sorted([seconds, *again])[repeats // 2]
                row(f"{method} no worse than the kernel", mesh, f"rtol {rtol:g}", f"median of {repeats}", error, middle)
                if before:
                    # Between the two runs that enclose the kernel's error, straight in logarithms.
                    share = math.log(before[0] / ours) / math.log(before[0] / error)
                    even = before[1] * (middle / before[1]) ** share
                    row(f"{method} at the kernel's error", mesh, "between the last two", "", ours, even)
                break
            before = (error, seconds)
    for steps in (1, 2, 4):
        runs = [trapezium(facts, elements, outdoor, mesh, steps) for _ in range(repeats)]
        seconds = sorted(r[1] for r in runs)[repeats // 2]
        row("by hand: trapezium with one factorisation", mesh, f"{steps} steps an hour", f"median of {repeats}",
            rms(runs[0][0]), seconds)
    head = "who,mesh,time,work,RMS error K,seconds a year,ratio to the kernel alone"
    (folder / "results.csv").write_text("\n".join([head, *rows]) + "\n")


if __name__ == "__main__":
    main()
