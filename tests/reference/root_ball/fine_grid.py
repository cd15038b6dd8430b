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


def uniform_parts(borders: list[float], cell_m: float) -> np.ndarray:
    """Edges through all borders, with equal cells of about `cell_m` between neighbours."""
    parts = [np.array([borders[0]])]
    for low, high in pairwise(borders):
        count = max(1, int(np.ceil((high - low) / cell_m - 1e-9)))
        parts.append(low + (high - low) * np.arange(1, count + 1) / count)
    return np.concatenate(parts)


def fine_answer(pot: dict[str, float], envelope: np.ndarray, start_c: float, depths_m, cell_m: float) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Hourly readings of one pot, shape (n_hours, 5 + n_depths): three rings, mean, frozen share, axis.

    `pot` holds the fields of RootBalls, `envelope` its six films and environments, shape (6, n_hours).
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
    properties = np.array(
        [
            pot["wall_resistance_m2_k_w"], pot["wall_heat_capacity_j_m2_k"],
            pot["conductivity_unfrozen_w_m_k"], pot["conductivity_frozen_w_m_k"],
            pot["heat_capacity_unfrozen_j_m3_k"], pot["heat_capacity_frozen_j_m3_k"],
            pot["freezable_water_fraction"], pot["freezing_start_c"], pot["freezing_end_c"],
        ]
    )  # fmt: skip
    _run(r_edges, z_edges, properties, envelope, start_c, np.asarray(depths_m, dtype=np.float64), readings)
    return readings


@njit
def _run(r_edges, z_edges, properties, envelope, start_c, depths_m, readings):  # type: ignore[no-untyped-def]
    wall_r, wall_c, k_u, k_f, c_u, c_f, water, t_start, t_end = properties
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
    if start_c >= t_start:
        h0 = (start_c - t_start) * c_u
    elif start_c >= t_end:
        h0 = (start_c - t_start) * c_l
    else:
        h0 = h_end + (start_c - t_end) * c_f
    enthalpy = np.full((nr, nz), h0)
    temperature = np.full((nr, nz), start_c)
    integral = np.zeros((nr, nz))
    change = np.zeros((nr, nz))
    wall = np.full(nz, start_c)


    # largest stable step: diffusion in both directions plus the strongest film on the thinnest cell
    fastest = max(k_u / c_u, k_f / c_f)
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

    for hour in range(envelope.shape[1]):
        # readings
        mean = 0.0
        frozen = 0.0
        for i in range(nr):
            for j in range(nz):
                h = enthalpy[i, j]
                if h >= 0.0:
                    t = t_start + h / c_u
                    f = 0.0
                elif h >= h_end:
                    t = t_start + h / c_l
                    f = h / h_end
                else:
                    t = t_end + (h - h_end) / c_f
                    f = 1.0
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
                readings[hour, 5 + d] = temperature[0, j] + share * (temperature[0, j + 1] - temperature[0, j])
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
                        integral[i, j] = h * (k_u / c_u)
                    elif h >= h_end:
                        f = h / h_end
                        integral[i, j] = h / c_l * (k_u + 0.5 * (k_f - k_u) * f)
                    else:
                        integral[i, j] = -0.5 * (k_u + k_f) * span + (h - h_end) * (k_f / c_f)
                    change[i, j] = 0.0
            for i in range(nr - 1):
                link = r_edges[i + 1] / (rc[i + 1] - rc[i])
                for j in range(nz):
                    flow = link * (integral[i + 1, j] - integral[i, j])
                    change[i, j] += flow / area[i]
                    change[i + 1, j] -= flow / area[i + 1]
            for i in range(nr):
                for j in range(nz - 1):
                    flow = (integral[i, j + 1] - integral[i, j]) / (zc[j + 1] - zc[j])
                    change[i, j] += flow / dz[j]
                    change[i, j + 1] -= flow / dz[j + 1]
            outside = side_u / (1.0 + side_u * 0.5 * wall_r)
            for j in range(nz):
                h = enthalpy[nr - 1, j]
                f = min(1.0, max(0.0, h / h_end))
                k = k_u + (k_f - k_u) * f
                t = t_start + h / c_u if h >= 0 else (t_start + h / c_l if h >= h_end else t_end + (h - h_end) / c_f)
                inside = 1.0 / (0.5 * dr[nr - 1] / k + 0.5 * wall_r)
                wall[j] = (wall_c / dt * wall[j] + inside * t + outside * side_t) / (wall_c / dt + inside + outside)
                change[nr - 1, j] += radius * inside * (wall[j] - t) / area[nr - 1]
            for i in range(nr):
                h = enthalpy[i, 0]
                k = k_u + (k_f - k_u) * min(1.0, max(0.0, h / h_end))
                t = t_start + h / c_u if h >= 0 else (t_start + h / c_l if h >= h_end else t_end + (h - h_end) / c_f)
                change[i, 0] += (top_e - t) * top_u / (1.0 + top_u * 0.5 * dz[0] / k) / dz[0]
                h = enthalpy[i, nz - 1]
                k = k_u + (k_f - k_u) * min(1.0, max(0.0, h / h_end))
                t = t_start + h / c_u if h >= 0 else (t_start + h / c_l if h >= h_end else t_end + (h - h_end) / c_f)
                change[i, nz - 1] += (base_e - t) * base_u / (1.0 + base_u * 0.5 * dz[nz - 1] / k) / dz[nz - 1]
            for i in range(nr):
                for j in range(nz):
                    enthalpy[i, j] += dt * change[i, j]
