"""The same problem written for general-purpose solvers, as a careful user would write it.

Each peer takes one row of a case table and returns hourly curves, shape (n_hours, 4): top, middle and bottom
ring, and the mean. They share the definitions of the problem with the engine, and no code.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec

import numpy as np

from .cases import envelope_of, root_balls_of, start_of

RING_WIDTH_M, RING_HEIGHT_M = 0.01, 0.02


@dataclass(frozen=True)
class Pot:
    """Numbers of one case, and its mix's curves."""

    values: dict[str, float]
    films: np.ndarray  # (6, n_hours)
    start_c: float

    @property
    def n_hours(self) -> int:
        """Rows of the envelope."""
        return self.films.shape[1]

    def films_at(self, hours: float) -> np.ndarray:
        """Films and environments, linear between whole hours."""
        row = min(int(hours), self.n_hours - 2)
        return self.films[:, row] + (hours - row) * (self.films[:, row + 1] - self.films[:, row])

    def frozen_share(self, temperature_c: np.ndarray) -> np.ndarray:
        """Linear between start and end of freezing."""
        start, end = self.values["freezing_start_c"], self.values["freezing_end_c"]
        return np.clip((start - temperature_c) / (start - end), 0.0, 1.0)

    def conductivity(self, temperature_c: np.ndarray) -> np.ndarray:
        """Linear in the frozen share."""
        unfrozen, frozen = self.values["conductivity_unfrozen_w_m_k"], self.values["conductivity_frozen_w_m_k"]
        return unfrozen + (frozen - unfrozen) * self.frozen_share(temperature_c)

    def enthalpy(self, temperature_c: np.ndarray) -> np.ndarray:
        """Heat content from the start of freezing [J/m3]."""
        start, end = self.values["freezing_start_c"], self.values["freezing_end_c"]
        c_u, c_f = self.values["heat_capacity_unfrozen_j_m3_k"], self.values["heat_capacity_frozen_j_m3_k"]
        latent = 333.55e6 * self.values["freezable_water_fraction"] + 0.5 * (c_u + c_f) * (start - end)
        return (
            c_u * np.maximum(temperature_c - start, 0.0)
            + c_f * np.minimum(temperature_c - end, 0.0)
            - latent * self.frozen_share(temperature_c)
        )

    def capacity(self, temperature_c: np.ndarray) -> np.ndarray:
        """dH/dT [J/(m3 K)]."""
        start, end = self.values["freezing_start_c"], self.values["freezing_end_c"]
        c_u, c_f = self.values["heat_capacity_unfrozen_j_m3_k"], self.values["heat_capacity_frozen_j_m3_k"]
        latent = 333.55e6 * self.values["freezable_water_fraction"] / (start - end) + 0.5 * (c_u + c_f)
        return np.where(temperature_c > start, c_u, np.where(temperature_c < end, c_f, latent))


def pot_of(table_row: np.ndarray, n_hours: int) -> Pot:
    """One row of a case table."""
    table = table_row[None]
    balls, envelope = root_balls_of(table), envelope_of(table, n_hours)
    values = {name: float(getattr(balls, name)[0]) for name in balls.__dataclass_fields__}
    films = np.array([getattr(envelope, name)[:, 0] for name in envelope.__dataclass_fields__])
    return Pot(values, films, float(start_of(table)[0]))


def graded_edges(length: float, counts: tuple[int, int, int], ends: tuple[float, float]) -> np.ndarray:
    """Edges with given end zones and an even middle."""
    first, last = ends
    parts = [
        np.linspace(0.0, first, counts[0] + 1) if first > 0.0 else np.zeros(1),
        np.linspace(first, length - last, counts[1] + 1)[1:],
        np.linspace(length - last, length, counts[2] + 1)[1:],
    ]
    return np.concatenate(parts)


class _Volumes:
    """Finite volumes for scipy's integrators: temperatures of cells and of one wall cell per row."""

    def __init__(self, pot: Pot, thin: int = 2) -> None:
        self.pot = pot
        radius, height = pot.values["radius_m"], pot.values["height_m"]
        inner = max(6, int(np.ceil((radius - 0.01) / 0.02)))
        self.r = graded_edges(radius, (0, inner, thin), (0.0, RING_WIDTH_M))
        half = 0.5 * height
        coarse = max(2, int(np.ceil((half - 0.03) / 0.02)))
        upper = np.concatenate(
            [np.linspace(0.0, 0.02, thin + 1)[:-1], np.linspace(0.02, half - 0.01, coarse + 1)]
        )
        self.z = np.concatenate([upper, height - upper[::-1]])
        self.nr, self.nz = len(self.r) - 1, len(self.z) - 1
        self.rc, self.zc = 0.5 * (self.r[1:] + self.r[:-1]), 0.5 * (self.z[1:] + self.z[:-1])
        self.area = 0.5 * np.diff(self.r**2)
        self.dz = np.diff(self.z)
        self.held = 1.0 + pot.values["wetter_below"] * (2.0 * self.zc / height - 1.0)

    def rate(self, seconds: float, state: np.ndarray) -> np.ndarray:
        """d(temperature)/dt of cells (row by row, wall last in each row)."""
        pot = self.pot
        t = state.reshape(self.nz, self.nr + 1)
        soil, wall = t[:, :-1], t[:, -1]
        k = pot.conductivity(soil)
        side_u, side_e, top_u, top_e, base_u, base_e = pot.films_at(seconds / 3600.0)
        # mean conductivity over the two temperatures: exact for the linear part of the freezing range
        gain = np.zeros_like(soil)
        mid = 0.5 * (k[:, 1:] + k[:, :-1])
        flow = mid * np.diff(soil, axis=1) * self.r[1:-1] / np.diff(self.rc)
        gain[:, :-1] += flow / self.area[:-1]
        gain[:, 1:] -= flow / self.area[1:]
        half = 0.5 * pot.values["wall_resistance_m2_k_w"]
        inward = (wall - soil[:, -1]) / (0.5 * (self.r[-1] - self.r[-2]) / k[:, -1] + half)
        gain[:, -1] += inward * self.r[-1] / self.area[-1]
        mid = 0.5 * (k[1:] + k[:-1])
        flow = mid * np.diff(soil, axis=0) / np.diff(self.zc)[:, None]
        gain[:-1] += flow / self.dz[:-1, None]
        gain[1:] -= flow / self.dz[1:, None]
        gain[0] += (top_e - soil[0]) * top_u / (1.0 + top_u * 0.5 * self.dz[0] / k[0]) / self.dz[0]
        gain[-1] += (base_e - soil[-1]) * base_u / (1.0 + base_u * 0.5 * self.dz[-1] / k[-1]) / self.dz[-1]
        out = np.empty_like(t)
        out[:, :-1] = gain / (self.held[:, None] * pot.capacity(soil))
        outside = side_u / (1.0 + side_u * half) * (side_e - wall)
        out[:, -1] = (outside - inward) / max(pot.values["wall_heat_capacity_j_m2_k"], 200.0)
        return out.ravel()

    def readings(self, states: np.ndarray) -> np.ndarray:
        """Rings and mean."""
        t = states.reshape(-1, self.nz, self.nr + 1)[:, :, :-1]
        weight = self.dz[:, None] * self.area
        height, radius = self.z[-1], self.r[-1]
        outer = self.rc > radius - RING_WIDTH_M
        columns = []
        for low in (0.0, 0.5 * height - 0.01, height - RING_HEIGHT_M):
            inside = ((self.zc > low) & (self.zc < low + RING_HEIGHT_M))[:, None] & outer
            columns.append((t * (weight * inside)).sum(axis=(1, 2)) / (weight * inside).sum())
        columns.append((t * weight).sum(axis=(1, 2)) / weight.sum())
        return np.stack(columns, axis=-1)


def _integrate(pot: Pot, method: str, relative: float) -> np.ndarray:
    from scipy.integrate import solve_ivp
    from scipy.sparse import diags

    volumes = _Volumes(pot)
    size, width = volumes.nz * (volumes.nr + 1), volumes.nr + 1
    hours = np.arange(pot.n_hours) * 3600.0
    options: dict[str, object]
    if method == "LSODA":
        options = {"lband": width, "uband": width}
    else:
        options = {"jac_sparsity": diags([1, 1, 1, 1, 1], [-width, -1, 0, 1, width], shape=(size, size))}
    answer = solve_ivp(
        volumes.rate, (0.0, hours[-1]), np.full(size, pot.start_c), method=method, t_eval=hours,
        rtol=relative, atol=1e-3, max_step=3600.0, **options,
    )  # fmt: skip
    assert answer.success, answer.message
    return volumes.readings(answer.y.T)


def scipy_bdf(pot: Pot) -> np.ndarray:
    """Graded finite volumes with scipy's BDF and a sparse Jacobian."""
    return _integrate(pot, "BDF", 1e-3)


def scipy_lsoda(pot: Pot) -> np.ndarray:
    """Graded finite volumes with scipy's LSODA and a banded Jacobian."""
    return _integrate(pot, "LSODA", 1e-3)


def scikit_fem(pot: Pot) -> np.ndarray:
    """Bilinear elements on a graded mesh, 5 minutes, secant capacity, four passes; wall as unknowns on the rim."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu
    from skfem import Basis, BilinearForm, ElementQuad1, FacetBasis, LinearForm, MeshQuad

    volumes = _Volumes(pot, thin=4)
    mesh = MeshQuad.init_tensor(volumes.r, volumes.z).with_boundaries(
        {
            "side": lambda x: np.isclose(x[0], volumes.r[-1]),
            "top": lambda x: np.isclose(x[1], 0.0),
            "base": lambda x: np.isclose(x[1], volumes.z[-1]),
        }
    )
    basis = Basis(mesh, ElementQuad1())
    faces = {name: FacetBasis(mesh, ElementQuad1(), facets=name) for name in ("side", "top", "base")}

    @BilinearForm
    def stiffness(u, v, w):
        gradient = u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]
        return pot.conductivity(np.asarray(w["t"])) * gradient * w.x[0]

    @BilinearForm
    def on_face(u, v, w):
        return u * v * w.x[0]

    @LinearForm
    def nodal(v, w):
        return v * w.x[0]

    @LinearForm
    def volume(v, w):
        return v * w.x[0] * w["inside"]

    rim = np.unique(mesh.facets[:, mesh.boundaries["side"]])
    mass = nodal.assemble(basis)  # lumped
    face_weight = {name: nodal.assemble(part) for name, part in faces.items()}
    face_matrix = {name: on_face.assemble(part) for name, part in faces.items()}
    wall_weight = face_weight["side"][rim]
    x = basis.global_coordinates().value
    weights = []
    for low in (0.0, 0.5 * volumes.z[-1] - 0.01, volumes.z[-1] - RING_HEIGHT_M):
        inside = (x[0] > volumes.r[-1] - RING_WIDTH_M) & (x[1] > low) & (x[1] < low + RING_HEIGHT_M)
        weights.append(volume.assemble(basis, inside=inside.astype(float)))
    weights.append(mass)
    weights = [weight / weight.sum() for weight in weights]

    half = 0.5 * max(pot.values["wall_resistance_m2_k_w"], 1e-3)
    wall_capacity = pot.values["wall_heat_capacity_j_m2_k"]
    size, step = len(mass), 300.0
    temperature, wall = np.full(size, pot.start_c), np.full(len(rim), pot.start_c)
    readings = [[pot.start_c] * 4]
    for number in range(1, 12 * (pot.n_hours - 1) + 1):
        side_u, side_e, top_u, top_e, base_u, base_e = pot.films_at(number / 12.0)
        outside = side_u / (1.0 + side_u * half)
        old, old_enthalpy = temperature, pot.enthalpy(temperature)
        for _ in range(4):
            change = temperature - old
            moved = np.abs(change) > 1e-6
            secant = np.divide(
                pot.enthalpy(temperature) - old_enthalpy, change, out=pot.capacity(temperature), where=moved
            )
            field = basis.interpolate(temperature)
            matrix = stiffness.assemble(basis, t=field) + top_u * face_matrix["top"] + base_u * face_matrix["base"]
            load = mass * secant / step * old
            load += top_u * top_e * face_weight["top"] + base_u * base_e * face_weight["base"]
            # the wall, one unknown per node of the rim, eliminated by hand
            own = wall_capacity / step + outside + 1.0 / half
            diagonal = mass * secant / step
            diagonal[rim] += wall_weight / half * (1.0 - 1.0 / half / own)
            load[rim] += wall_weight / half * (wall_capacity / step * wall + outside * side_e) / own
            index = np.arange(size)
            system = (matrix + coo_matrix((diagonal, (index, index)), shape=(size, size))).tocsc()
            temperature = splu(system).solve(load)
        wall = (wall_capacity / step * wall + outside * side_e + temperature[rim] / half) / own
        if number % 12 == 0:
            readings.append([float(weight @ temperature) for weight in weights])
    return np.array(readings)


def fipy_volumes(pot: Pot) -> np.ndarray:
    """FiPy on an even 20 x 20 grid, 15 minutes, two sweeps; the wall as a resistance without heat capacity."""
    from fipy import CellVariable, CylindricalGrid2D, DiffusionTerm, ImplicitSourceTerm, TransientTerm
    from fipy.solvers.scipy import LinearLUSolver

    radius, height, cells = pot.values["radius_m"], pot.values["height_m"], 20
    mesh = CylindricalGrid2D(dr=radius / cells, nr=cells, dz=height / cells, nz=cells)
    r, z = (np.asarray(part) for part in mesh.cellCenters)
    dr, dz = radius / cells, height / cells
    at_side, at_top, at_base = r > radius - dr, z < dz, z > height - dz
    temperature = CellVariable(mesh=mesh, value=pot.start_c, hasOld=True)
    capacity, conduction = CellVariable(mesh=mesh, value=1.0), CellVariable(mesh=mesh, value=1.0)
    coupling, source = CellVariable(mesh=mesh, value=0.0), CellVariable(mesh=mesh, value=0.0)
    equation = (
        TransientTerm(coeff=capacity, var=temperature)
        == DiffusionTerm(coeff=conduction.arithmeticFaceValue, var=temperature)
        - ImplicitSourceTerm(coeff=coupling, var=temperature)
        + source
    )
    volume = np.asarray(mesh.cellVolumes)
    readings, solver = [], LinearLUSolver()

    def read() -> list[float]:
        value = np.asarray(temperature.value)
        row = []
        for low in (0.0, 0.5 * height - 0.01, height - RING_HEIGHT_M):
            share_z = np.clip(np.minimum(z + dz / 2, low + 0.02) - np.maximum(z - dz / 2, low), 0.0, None)
            share_r = np.clip(r + dr / 2 - np.maximum(r - dr / 2, radius - RING_WIDTH_M), 0.0, None)
            weight = r * share_z * share_r
            row.append(float((value * weight).sum() / weight.sum()))
        return [*row, float((value * volume).sum() / volume.sum())]

    readings.append(read())
    for number in range(1, 4 * (pot.n_hours - 1) + 1):
        side_u, side_e, top_u, top_e, base_u, base_e = pot.films_at(number / 4.0)
        temperature.updateOld()
        old = np.asarray(temperature.old.value)
        old_enthalpy = pot.enthalpy(old)
        for _ in range(2):
            now = np.asarray(temperature.value)
            change = now - old
            capacity.setValue(
                np.divide(pot.enthalpy(now) - old_enthalpy, change, out=pot.capacity(now), where=np.abs(change) > 1e-6)
            )
            k = pot.conductivity(now)
            conduction.setValue(k)
            side = side_u / (1.0 + side_u * (pot.values["wall_resistance_m2_k_w"] + 0.5 * dr / k)) * radius / (r * dr)
            top = top_u / (1.0 + top_u * 0.5 * dz / k) / dz
            base = base_u / (1.0 + base_u * 0.5 * dz / k) / dz
            coupling.setValue(side * at_side + top * at_top + base * at_base)
            source.setValue(side * at_side * side_e + top * at_top * top_e + base * at_base * base_e)
            equation.sweep(var=temperature, dt=900.0, solver=solver)
        if number % 4 == 0:
            readings.append(read())
    return np.array(readings)


def installed_peers() -> dict[str, Callable[[Pot], np.ndarray]]:
    """Peers whose libraries are there."""
    peers: dict[str, Callable[[Pot], np.ndarray]] = {"scipy BDF": scipy_bdf, "scipy LSODA": scipy_lsoda}
    if find_spec("skfem") is not None:
        peers["scikit-fem"] = scikit_fem
    if find_spec("fipy") is not None:
        peers["FiPy"] = fipy_volumes
    return peers
