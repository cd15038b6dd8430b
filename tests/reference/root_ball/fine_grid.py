"""A second, deliberately simple solver for the same problem: explicit, fine uniform cells, one pot at a time.

It shares nothing with the engine but the definitions: explicit steps at 0.9 of the stability limit, plain
distances and face radii instead of logarithms, arithmetic cell centres. The wall, whose heat capacity may be
nothing, is balanced against the new wall temperature. Written as loops that numba compiles; without numba it
runs too, some hundred times slower.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

try:
    from numba import njit
except ImportError:  # only the script that makes the stored answers needs the speed

    def njit(function):  # type: ignore[no-untyped-def]
        return function


RING_WIDTH_M, RING_HEIGHT_M = 0.01, 0.02
TOP, MIDDLE, BOTTOM, MEAN, FROZEN, AXIS = range(6)
MIX = (
    "conductivity_unfrozen_w_m_k", "conductivity_frozen_w_m_k",
    "heat_capacity_unfrozen_j_m3_k", "heat_capacity_frozen_j_m3_k", "freezable_water_fraction",
)  # fmt: skip


def uniform_parts(borders: list[float], cell_m: float) -> np.ndarray:
    """Edges through all borders, with equal cells of about `cell_m` between neighbours."""
    parts = [np.array([borders[0]])]
    for low, high in pairwise(borders):
        count = max(1, int(np.ceil((high - low) / cell_m - 1e-9)))
        parts.append(low + (high - low) * np.arange(1, count + 1) / count)
    return np.concatenate(parts)


def fine_answer(  # type: ignore[no-untyped-def]
    pot: dict[str, float], envelope: np.ndarray, start_c: float, depths_m, cell_m: float, *, below=None, off_wall_m=None
) -> np.ndarray:
    """Hourly readings of one pot, shape (n_hours, 5 + n_depths): three rings, mean, frozen share, axis.

    `pot` holds the fields of RootBalls, `envelope` its six films and environments, shape (6, n_hours). `below`, if
    given, is what the mix is like at the bottom, and `pot` what it is like at the top: in between it changes evenly
    with depth (the wall and the freezing range do not). With `off_wall_m` the depths are read so far within the wall.
    """
    radius, height = pot["radius_m"], pot["height_m"]
    # thinner cells near the wall and the ends, where the rings are
    r_edges = uniform_parts([0.0, max(0.0, radius - 0.04), radius - 0.02, radius - RING_WIDTH_M, radius], cell_m)
    r_edges = np.unique(r_edges)
    half = 0.5 * height
    z_edges = uniform_parts(
        [0.0, RING_HEIGHT_M, half - 0.5 * RING_HEIGHT_M, half + 0.5 * RING_HEIGHT_M, height - RING_HEIGHT_M, height],
        cell_m,
    )
    readings = np.full((envelope.shape[1], 5 + len(depths_m)), np.nan)
    down = (0.5 * (z_edges[1:] + z_edges[:-1]) / height)[None, :]
    top, bottom = (np.array([[one[name]] for name in MIX]) for one in (pot, below or pot))
    wall = (pot["wall_resistance_m2_k_w"], pot["wall_heat_capacity_j_m2_k"])
    span = (pot["freezing_start_c"], pot["freezing_end_c"])
    read_at = 0.0 if off_wall_m is None else max(radius - off_wall_m, 0.0)
    depths = np.asarray(depths_m, dtype=np.float64)
    _run(r_edges, z_edges, wall, span, top + down * (bottom - top), envelope, start_c, depths, read_at, readings)
    return readings


@njit
def _temperature(h, t_start, t_end, h_end, c_u, c_l, c_f):  # type: ignore[no-untyped-def]
    if h >= 0.0:
        return t_start + h / c_u
    if h >= h_end:
        return t_start + h / c_l
    return t_end + (h - h_end) / c_f


@njit
def _run(r_edges, z_edges, wall_of, span_of, mix, envelope, start_c, depths_m, read_at, readings):  # type: ignore[no-untyped-def]
    wall_r, wall_c = wall_of
    t_start, t_end = span_of
    k_u, k_f, c_u, c_f, water = mix  # one value for each layer of cells
    nr, nz = len(r_edges) - 1, len(z_edges) - 1
    span = t_start - t_end
    c_l = 333.55e6 * water / span + 0.5 * (c_u + c_f)
    h_end = -c_l * span
    rc = 0.5 * (r_edges[1:] + r_edges[:-1])
    zc = 0.5 * (z_edges[1:] + z_edges[:-1])
    dr = r_edges[1:] - r_edges[:-1]
    dz = z_edges[1:] - z_edges[:-1]
    area = 0.5 * (r_edges[1:] ** 2 - r_edges[:-1] ** 2)
    radius, height = r_edges[-1], z_edges[-1]
    enthalpy = np.zeros((nr, nz))
    for j in range(nz):
        if start_c >= t_start:
            enthalpy[:, j] = (start_c - t_start) * c_u[j]
        elif start_c >= t_end:
            enthalpy[:, j] = (start_c - t_start) * c_l[j]
        else:
            enthalpy[:, j] = h_end[j] + (start_c - t_end) * c_f[j]
    temperature = np.full((nr, nz), start_c)
    integral = np.zeros((nr, nz))
    change = np.zeros((nr, nz))
    conductivity = np.zeros((nr, nz))
    wall = np.full(nz, start_c)
    read_cell = 0
    while read_cell < nr - 1 and r_edges[read_cell + 1] <= read_at:
        read_cell += 1

    # largest stable step: diffusion in both directions plus the strongest film on the thinnest cell
    fastest = max((k_u / c_u).max(), (k_f / c_f).max())
    rate = 0.0
    for i in range(nr):
        left = 0.0 if i == 0 else r_edges[i] / (rc[i] - rc[i - 1])
        right = radius / (0.5 * dr[i]) if i == nr - 1 else r_edges[i + 1] / (rc[i + 1] - rc[i])
        rate = max(rate, (left + right) / area[i])
    rate_z = 0.0
    for j in range(nz):
        up = 2.0 / dz[j] if j == 0 else 1.0 / (zc[j] - zc[j - 1])
        down = 2.0 / dz[j] if j == nz - 1 else 1.0 / (zc[j + 1] - zc[j])
        rate_z = max(rate_z, (up + down) / dz[j])
    steps = int(np.ceil(3600.0 / min(30.0, 0.9 / (fastest * (rate + rate_z)))))
    dt = 3600.0 / steps
    layered = water[0] != water[nz - 1]
    diffusivity_u, diffusivity_f, per_end = k_u / c_u, k_f / c_f, 1.0 / h_end
    per_latent, per_unfrozen, per_frozen = 1.0 / c_l, 1.0 / c_u, 1.0 / c_f

    for hour in range(envelope.shape[1]):
        # readings
        mean = 0.0
        frozen = 0.0
        for i in range(nr):
            for j in range(nz):
                h = enthalpy[i, j]
                f = min(1.0, max(0.0, h / h_end[j]))
                t = _temperature(h, t_start, t_end, h_end[j], c_u[j], c_l[j], c_f[j])
                temperature[i, j] = t
                share = area[i] * dz[j] / (0.5 * radius**2 * height)
                mean += share * t
                frozen += share * f
        for ring in range(3):
            low = 0.0
            if ring == 1:
                low = 0.5 * height - 0.01
            if ring == 2:
                low = height - 0.02
            total, weight = 0.0, 0.0
            for i in range(nr):
                if rc[i] > radius - 0.01:
                    for j in range(nz):
                        if zc[j] > low and zc[j] < low + 0.02:
                            total += area[i] * dz[j] * temperature[i, j]
                            weight += area[i] * dz[j]
            readings[hour, ring] = total / weight
        readings[hour, 3] = mean
        readings[hour, 4] = frozen
        for d in range(len(depths_m)):
            if depths_m[d] <= height:
                j = 0
                while j < nz - 2 and zc[j + 1] < depths_m[d]:
                    j += 1
                share = min(1.0, max(0.0, (depths_m[d] - zc[j]) / (zc[j + 1] - zc[j])))
                upper, lower = temperature[read_cell, j], temperature[read_cell, j + 1]
                readings[hour, 5 + d] = upper + share * (lower - upper)
        if hour == envelope.shape[1] - 1:
            break

        for step in range(steps):
            later = (step + 0.5) / steps
            side_u = envelope[0, hour] + later * (envelope[0, hour + 1] - envelope[0, hour])
            side_t = envelope[1, hour] + later * (envelope[1, hour + 1] - envelope[1, hour])
            top_u = envelope[2, hour] + later * (envelope[2, hour + 1] - envelope[2, hour])
            top_e = envelope[3, hour] + later * (envelope[3, hour + 1] - envelope[3, hour])
            base_u = envelope[4, hour] + later * (envelope[4, hour + 1] - envelope[4, hour])
            base_e = envelope[5, hour] + later * (envelope[5, hour + 1] - envelope[5, hour])
            for i in range(nr):
                for j in range(nz):
                    h = enthalpy[i, j]
                    if h >= 0.0:
                        integral[i, j] = h * diffusivity_u[j]
                    elif h >= h_end[j]:
                        f = h * per_end[j]
                        integral[i, j] = h * per_latent[j] * (k_u[j] + 0.5 * (k_f[j] - k_u[j]) * f)
                    else:
                        integral[i, j] = -0.5 * (k_u[j] + k_f[j]) * span + (h - h_end[j]) * diffusivity_f[j]
                    if layered:
                        conductivity[i, j] = k_u[j] + (k_f[j] - k_u[j]) * min(1.0, max(0.0, h * per_end[j]))
                        if h >= 0.0:
                            temperature[i, j] = t_start + h * per_unfrozen[j]
                        elif h >= h_end[j]:
                            temperature[i, j] = t_start + h * per_latent[j]
                        else:
                            temperature[i, j] = t_end + (h - h_end[j]) * per_frozen[j]
                    change[i, j] = 0.0
            for i in range(nr - 1):
                link = r_edges[i + 1] / (rc[i + 1] - rc[i])
                inner, outer = link / area[i], link / area[i + 1]
                for j in range(nz):
                    flow = integral[i + 1, j] - integral[i, j]
                    change[i, j] += flow * inner
                    change[i + 1, j] -= flow * outer
            for i in range(nr):
                for j in range(nz - 1):
                    if layered:  # the integral of another mix is another function: resistances of two half cells
                        one, other = conductivity[i, j], conductivity[i, j + 1]
                        flow = 2.0 * one * other / (dz[j] * other + dz[j + 1] * one)
                        flow *= temperature[i, j + 1] - temperature[i, j]
                    else:
                        flow = (integral[i, j + 1] - integral[i, j]) / (zc[j + 1] - zc[j])
                    change[i, j] += flow / dz[j]
                    change[i, j + 1] -= flow / dz[j + 1]
            outside = side_u / (1.0 + side_u * 0.5 * wall_r)
            for j in range(nz):
                h = enthalpy[nr - 1, j]
                f = min(1.0, max(0.0, h / h_end[j]))
                k = k_u[j] + (k_f[j] - k_u[j]) * f
                t = _temperature(h, t_start, t_end, h_end[j], c_u[j], c_l[j], c_f[j])
                inside = 1.0 / (0.5 * dr[nr - 1] / k + 0.5 * wall_r)
                wall[j] = (wall_c / dt * wall[j] + inside * t + outside * side_t) / (wall_c / dt + inside + outside)
                change[nr - 1, j] += radius * inside * (wall[j] - t) / area[nr - 1]
            for i in range(nr):
                h = enthalpy[i, 0]
                k = k_u[0] + (k_f[0] - k_u[0]) * min(1.0, max(0.0, h / h_end[0]))
                t = _temperature(h, t_start, t_end, h_end[0], c_u[0], c_l[0], c_f[0])
                change[i, 0] += (top_e - t) * top_u / (1.0 + top_u * 0.5 * dz[0] / k) / dz[0]
                h = enthalpy[i, nz - 1]
                k = k_u[nz - 1] + (k_f[nz - 1] - k_u[nz - 1]) * min(1.0, max(0.0, h / h_end[nz - 1]))
                t = _temperature(h, t_start, t_end, h_end[nz - 1], c_u[nz - 1], c_l[nz - 1], c_f[nz - 1])
                change[i, nz - 1] += (base_e - t) * base_u / (1.0 + base_u * 0.5 * dz[nz - 1] / k) / dz[nz - 1]
            for i in range(nr):
                for j in range(nz):
                    enthalpy[i, j] += dt * change[i, j]
