#!/usr/bin/env python3
"""Solves machine sections by finite elements and writes field_fem.toml beside this file.

    python3 -m venv venv && venv/bin/pip install scikit-fem numpy scipy
    OMP_NUM_THREADS=1 venv/bin/python tests/reference/field_fem.py [NAME ...]

What is solved: the plane magnetostatic problem of a whole section, -div(1/mu grad A) = J + curl M,
with biquadratic elements on a structured mesh that follows bore, opening, tooth tip, the
parallel-sided teeth and the magnet edges. Iron has a relative permeability of 1e5. The space
between magnets has the recoil permeability of the magnets, as in the model that is checked (air
there instead moves field harmonics by up to 0.2 % of the fundamental). Each
machine is solved on three meshes; the finest gives the values, and the `change_...` keys hold how
much the finest two differ.

Angles: magnet 0 is magnetised outwards and stands in the middle of slot 0; slots are counted
counter-clockwise, A and current are positive towards the viewer. One conductor a coil side, one
metre of length, torque on the rotor counter-clockwise, speed one radian per second.
"""

import sys
import numpy as np
import scipy
import scipy.sparse.linalg as sla
import skfem
from skfem import Basis, BilinearForm, ElementQuad2, LinearForm, MeshQuad

MU0 = 4e-7 * np.pi
IRON = 1e5

# Lengths in m. `sizes`: columns of the mesh round the machine, coarse to fine.
MACHINES = {
    "smooth_12_14_outrunner_radial": dict(
        outrunner=True, slots=12, poles=14, arc=5 / 6, magnetisation="radial", slotting=False,
        bore=14e-3, gap=0.7e-3, magnet=2.5e-3, opening=1.95e-3, tip=1e-3, depth=7.5e-3, tooth=4.2e-3,
        span=1, sizes=[504, 840, 1176]),
    "smooth_3_2_inrunner_parallel": dict(
        outrunner=False, slots=3, poles=2, arc=1.0, magnetisation="parallel", slotting=False,
        bore=10e-3, gap=0.5e-3, magnet=3e-3, opening=2.5e-3, tip=1.2e-3, depth=6e-3, tooth=6e-3,
        span=1, sizes=[360, 540, 720]),
    "smooth_6_2_inrunner_radial": dict(
        outrunner=False, slots=6, poles=2, arc=0.8, magnetisation="radial", slotting=False,
        bore=10e-3, gap=0.8e-3, magnet=3e-3, opening=2.5e-3, tip=1.2e-3, depth=6e-3, tooth=4e-3,
        span=3, sizes=[360, 600, 720]),
    "slotted_12_14_outrunner_radial": dict(
        outrunner=True, slots=12, poles=14, arc=5 / 6, magnetisation="radial", slotting=True,
        bore=14e-3, gap=0.7e-3, magnet=2.5e-3, opening=1.95e-3, tip=1e-3, depth=7.5e-3, tooth=3.0e-3,
        span=1, sizes=[504, 840, 1176]),
    "slotted_12_10_inrunner_parallel": dict(
        outrunner=False, slots=12, poles=10, arc=0.75, magnetisation="parallel", slotting=True,
        bore=14e-3, gap=0.6e-3, magnet=2.5e-3, opening=2.2e-3, tip=1e-3, depth=9e-3, tooth=4.2e-3,
        span=1, sizes=[480, 720, 960]),
    "slotted_9_6_inrunner_radial": dict(
        outrunner=False, slots=9, poles=6, arc=0.8, magnetisation="radial", slotting=True,
        bore=12e-3, gap=0.5e-3, magnet=2e-3, opening=2e-3, tip=0.8e-3, depth=7e-3, tooth=4.6e-3,
        span=1, sizes=[540, 720, 900]),
    "slotted_9_12_outrunner_parallel": dict(
        outrunner=True, slots=9, poles=12, arc=0.8, magnetisation="parallel", slotting=True,
        bore=16e-3, gap=0.6e-3, magnet=2e-3, opening=2.4e-3, tip=1.2e-3, depth=8e-3, tooth=4e-3,
        span=1, sizes=[540, 720, 900]),
    "slotted_3_2_inrunner_parallel": dict(
        outrunner=False, slots=3, poles=2, arc=0.8, magnetisation="parallel", slotting=True,
        bore=8e-3, gap=0.5e-3, magnet=3e-3, opening=2e-3, tip=1e-3, depth=6e-3, tooth=5e-3,
        span=1, sizes=[480, 600, 720]),
    "slotted_24_4_inrunner_radial": dict(
        outrunner=False, slots=24, poles=4, arc=0.8, magnetisation="radial", slotting=True,
        bore=25e-3, gap=0.7e-3, magnet=3e-3, opening=1.8e-3, tip=0.8e-3, depth=11e-3, tooth=3.2e-3,
        span=5, sizes=[480, 720, 960]),
}
MU_R = 1.05
REMANENCE = 1.2
YOKE = 4e-3


def layout(m):
    """Coil by coil from the six 60 degree belts of the star of slots: [(phase, sign)] by first slot."""
    belts = [(0, 1), (2, -1), (1, 1), (0, -1), (2, 1), (1, -1)]
    q, p = m["slots"], m["poles"] // 2
    return [belts[(12 * (k * p % q) + q) // (2 * q) % 6] for k in range(q)]


class Section:
    def __init__(self, m, n):
        self.m, self.n = m, n
        q = m["slots"]
        self.per_slot = n // q
        assert n % q == 0 and self.per_slot % 2 == 0, "slot middles lie on a column"
        self.sign = sign = -1 if m["outrunner"] else 1
        bore = m["bore"]
        at = lambda depth: bore + sign * depth
        self.face, self.back = at(-m["gap"]), at(-m["gap"] - m["magnet"])
        self.mid = at(-0.5 * m["gap"])
        self.tip, self.bottom = at(m["tip"]), at(m["depth"])
        scale = n / 600
        c = lambda k: max(2, int(round(k * scale)))
        # From the rotor's far side towards the stator's: (from, to, layers, kind).
        spans = [
            (at(-m["gap"] - m["magnet"] - YOKE), self.back, c(4), "rotor"),
            (self.back, self.face, c(9), "magnet"),
            (self.face, self.mid, c(5), "gap"),
            (self.mid, bore, c(5), "gap"),
            (bore, self.tip, c(7), "tip"),
            *self.body_spans(at, c),
            (self.bottom, at(m["depth"] + YOKE), c(4), "yoke"),
        ]
        radii, kinds = [spans[0][0]], []
        for a, b, k, kind in spans:
            radii += list(a + (b - a) * np.arange(1, k + 1) / k)
            kinds += [kind] * k
        radii = np.array(radii)
        theta = np.array([self.angles(r, i, kinds) for i, r in enumerate(radii)])
        x, y = radii[:, None] * np.cos(theta), radii[:, None] * np.sin(theta)
        nl = len(kinds)
        k, j = np.meshgrid(np.arange(nl), np.arange(n), indexing="ij")
        j1 = (j + 1) % n
        cells = np.stack([k * n + j, (k + 1) * n + j, (k + 1) * n + j1, k * n + j1])
        self.mesh = MeshQuad(np.stack([x.ravel(), y.ravel()]), cells.reshape(4, -1))
        self.kind = np.repeat(np.array(kinds), n)
        self.column = np.tile(np.arange(n), nl)
        self.radii = radii
        self.basis = Basis(self.mesh, ElementQuad2(), intorder=5)
        self.materials()
        self.factor()

    def body_spans(self, at, c):
        """The slot body in one piece, or cut where half of its area lies on either side."""
        m = self.m
        if m["span"] == 1:
            return [(self.tip, self.bottom, c(16), "body")]
        depths = np.linspace(m["tip"], m["depth"], 20001)
        radii = m["bore"] + self.sign * depths
        width = radii * self.walls(radii)[1]
        area = np.concatenate([[0], np.cumsum(0.5 * (width[1:] + width[:-1]))])
        self.half = float(np.interp(0.5 * area[-1], area, depths))
        return [(self.tip, at(self.half), c(8), "body"), (at(self.half), self.bottom, c(8), "body")]

    def walls(self, r):
        """Half angles of opening and body at a radius."""
        m = self.m
        opening = np.arcsin(0.5 * m["opening"] / r)
        body = np.pi / m["slots"] - np.arcsin(0.5 * m["tooth"] / r)
        return opening, body

    def angles(self, r, i, kinds):
        """Angles of the columns at a layer line: uniform at the magnets, along walls in the stator."""
        m, half = self.m, self.per_slot // 2
        pitch = 2 * np.pi / m["slots"]
        uniform = (np.arange(self.per_slot) - half) * pitch / self.per_slot
        o, b = self.walls(self.tip)
        line = lambda angle: int(round(angle / pitch * self.per_slot))
        j1 = max(2, line(self.walls(m["bore"])[0]))
        j0 = min(max(j1 + 2, line(b)), half - 2)
        self.lines = (j1, j0)
        deep = self.sign * (r - m["bore"])
        if deep <= 0:
            opening, body = self.walls(m["bore"])[0], b
        elif deep <= m["tip"] * (1 + 1e-12):
            opening, body = self.walls(r)[0], b
        else:
            body = self.walls(max(r, self.bottom) if self.sign < 0 else min(r, self.bottom))[1]
            opening = o / b * body
        shaped = np.interp(np.arange(self.per_slot + 1) - half, [-half, -j0, -j1, 0, j1, j0, half],
                           [-pitch / 2, -body, -opening, 0, opening, body, pitch / 2])[:-1]
        # Blend from uniform at the middle of the gap to the walls, and back in the yoke.
        w = np.clip(1 + deep / (0.5 * m["gap"]), 0, 1)
        w *= np.clip(1 - (deep - m["depth"]) / YOKE, 0, 1)
        local = (1 - w) * uniform + w * shaped
        return (local[None, :] + pitch * np.arange(m["slots"])[:, None]).ravel() + 0.0

    def materials(self):
        m, per, half = self.m, self.per_slot, self.per_slot // 2
        j1, j0 = self.lines
        local = self.column % per - half + 0.5
        self.slot = self.column // per
        in_opening = (self.kind == "tip") & (np.abs(local) < j1)
        in_body = (self.kind == "body") & (np.abs(local) < j0)
        if not m["slotting"]:
            in_opening[:] = in_body[:] = False
        self.in_body, self.left = in_body, local < 0
        mu = np.full(len(self.kind), IRON)
        mu[(self.kind == "gap") | in_opening | in_body] = 1.0
        mu[self.kind == "magnet"] = MU_R
        self.mu = mu
        self.local = local

    def factor(self):
        nu = np.repeat((1 / (MU0 * self.mu))[:, None], self.basis.X.shape[1], axis=1)

        @BilinearForm
        def stiffness(u, v, w):
            return w.nu * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])

        k = stiffness.assemble(self.basis, nu=nu).tocsc()
        r = np.hypot(*self.basis.doflocs)
        edge = np.isclose(r, self.radii[0], rtol=2e-4) | np.isclose(r, self.radii[-1], rtol=2e-4)
        self.free = np.flatnonzero(~edge)
        self.lu = sla.splu(k[self.free][:, self.free], permc_spec="MMD_AT_PLUS_A",
                           options=dict(SymmetricMode=True), diag_pivot_thresh=0.0)
        # Torque by Arkkio: mean of the Maxwell stress over the gap.
        gap = np.flatnonzero(self.kind == "gap")
        gb = Basis(self.mesh, ElementQuad2(), elements=gap, intorder=5)
        width = abs(self.face - self.m["bore"])

        @BilinearForm
        def stress(u, v, w):
            x, y = w.x
            r = np.hypot(x, y)
            br = (u.grad[1] * x - u.grad[0] * y) / r
            bt = -(v.grad[0] * x + v.grad[1] * y) / r
            return r * br * bt / (MU0 * width)

        self.stress = self.sign * stress.assemble(gb).tocsr()
        self.magnet_basis = Basis(self.mesh, ElementQuad2(),
                                  elements=np.flatnonzero(self.kind == "magnet"), intorder=5)
        # Means over coil sides.
        self.sides = {}
        one = LinearForm(lambda v, w: 1.0 * v)
        if self.m["slotting"]:
            for slot in range(self.m["slots"]):
                for side in self.side_names():
                    cells = np.flatnonzero(self.in_body & (self.slot == slot) & self.side_mask(side))
                    f = one.assemble(Basis(self.mesh, ElementQuad2(), elements=cells, intorder=5))
                    self.sides[slot, side] = f / f.sum()
        else:
            # A sheet at the bore, as wide as the opening, for currents; its middle for the EMF.
            per, (j1, _) = self.per_slot, self.lines
            bore = int(np.argmin(np.abs(self.radii - self.m["bore"])))
            for slot in range(self.m["slots"]):
                f = np.zeros(self.basis.N)
                for j in range(-j1, j1):
                    a = bore * self.n + (slot * per + per // 2 + j) % self.n
                    b = bore * self.n + (slot * per + per // 2 + j + 1) % self.n
                    d = self.edge_dof(a, b)
                    f[self.basis.nodal_dofs[0, a]] += 1 / 6
                    f[self.basis.nodal_dofs[0, b]] += 1 / 6
                    f[d] += 4 / 6
                for side in self.side_names():
                    self.sides[slot, side] = f / f.sum()
                point = np.zeros(self.basis.N)
                point[self.basis.nodal_dofs[0, bore * self.n + slot * per + per // 2]] = 1.0
                self.sides[slot, "point"] = point

    def edge_dof(self, a, b):
        if not hasattr(self, "edges"):
            f = self.mesh.facets
            self.edges = {(min(p), max(p)): i for i, p in enumerate(zip(f[0], f[1]))}
        return self.basis.facet_dofs[0, self.edges[min(a, b), max(a, b)]]

    def side_names(self):
        return [0, 1]

    def side_mask(self, side):
        """Side 0: clockwise half for tooth coils, else the deeper half of the area."""
        if self.m["span"] == 1:
            return self.left if side == 0 else ~self.left
        if not hasattr(self, "deep_mask"):
            layer = np.arange(len(self.kind)) // self.n
            depth = self.sign * (0.5 * (self.radii[layer] + self.radii[layer + 1]) - self.m["bore"])
            self.deep_mask = depth > self.half
        return self.deep_mask if side == 0 else ~self.deep_mask

    def solve(self, load):
        a = np.zeros(self.basis.N)
        a[self.free] = self.lu.solve(load[self.free])
        return a

    def magnets(self, shift):
        """Load of the magnets turned by `shift` columns."""
        m, n = self.m, self.n
        pole = n // m["poles"]
        covered = int(round(m["arc"] * pole))
        assert covered % 2 == 0 and abs(covered - m["arc"] * pole) < 1e-9, "magnet edges on columns"
        cells = np.flatnonzero(self.kind == "magnet")
        # Column 0 lies half a slot pitch before the middle of slot 0.
        rel = (self.column[cells] - self.per_slot // 2 - shift + pole // 2) % n
        index, inside = rel // pole, rel % pole - pole // 2 + 0.5
        on = np.abs(inside) < covered / 2
        direction = np.where(index % 2 == 0, 1.0, -1.0) * on
        centre = (index * pole + shift) * 2 * np.pi / n
        x, y = self.magnet_basis.global_coordinates().value
        angle = np.arctan2(y, x) if m["magnetisation"] == "radial" else centre[:, None] + 0 * x
        bx = REMANENCE * direction[:, None] * np.cos(angle)
        by = REMANENCE * direction[:, None] * np.sin(angle)

        @LinearForm
        def load(v, w):
            return (w.bx * v.grad[1] - w.by * v.grad[0]) / (MU0 * MU_R)

        return load.assemble(self.magnet_basis, bx=bx, by=by)

    def circle(self, a):
        """A at the middle of the gap, at 2 n even angles from the middle of slot 0."""
        k = int(np.argmin(np.abs(self.radii - self.mid)))
        out = np.zeros(2 * self.n)
        nodes = k * self.n + np.arange(self.n)
        out[0::2] = a[self.basis.nodal_dofs[0, nodes]]
        out[1::2] = [a[self.edge_dof(i, k * self.n + (j + 1) % self.n)] for j, i in enumerate(nodes)]
        return np.roll(out, -2 * (self.per_slot // 2))


def phase_sides(m):
    """[phase] -> list of (slot, side, sign): coil k has + in slot k (side 1), - in slot k + span (side 0)."""
    out = [[], [], []]
    for k, (phase, sign) in enumerate(layout(m)):
        out[phase] += [(k, 1, sign), ((k + m["span"]) % m["slots"], 0, -sign)]
    return out


def run(name, m, n):
    s = Section(m, n)
    q, p = m["slots"], m["poles"] // 2
    # Rotor positions: one slot pitch in steps of columns; the other slots give the other positions.
    # Fine enough for order 79, three samples a period.
    step = max(1, min(s.per_slot // 40, n // (3 * 79 * p)))
    while s.per_slot % step:
        step -= 1
    shifts = range(0, s.per_slot, step)
    kinds = ["point"] if not m["slotting"] else s.side_names()
    linkage = {k: np.zeros(n // step) for k in kinds}
    torque = []
    for i, shift in enumerate(shifts):
        a = s.solve(s.magnets(shift))
        torque.append(a @ (s.stress @ a))
        if shift == 0:
            field = s.circle(a)
        for slot in range(q):
            for k in kinds:
                # Rotor angle seen from this slot.
                linkage[k][(i - slot * (s.per_slot // step)) % (n // step)] = s.sides[slot, k] @ a
    count = n // step
    turn = lambda x, slot: np.roll(x, slot * (s.per_slot // step))
    phases = []
    for sides in phase_sides(m):
        lam = sum(sign * turn(linkage["point" if not m["slotting"] else side], slot)
                  for slot, side, sign in sides)
        phases.append(np.fft.rfft(lam) / count * 2)
    # lambda = Re sum c e^{i nu theta}; e = d lambda / d theta = Re sum i nu c e^{i nu theta}.
    orders = np.arange(1, min(79, (count - 2) // (2 * p)) + 1, 2)
    emf = 1j * orders * p * phases[0][orders * p]
    # e rises through zero at theta_e = 0: the fundamental is a sine there.
    zero = -np.angle(emf[0]) - np.pi / 2
    emf = emf * np.exp(1j * orders * zero)
    sine, cosine = -emf.imag, emf.real
    other = 1j * p * phases[1][p] * np.exp(1j * zero)
    assert abs(np.angle(other / emf[0]) + 2 * np.pi / 3) < 1e-3, "V follows U"
    th = np.linspace(0, 2 * np.pi, 7201)
    wave = lambda t: sum(a * np.sin(k * t) + b * np.cos(k * t) for k, a, b in zip(orders, sine, cosine))
    kv = 30 / np.pi / np.max(np.abs(wave(th) - wave(th - 2 * np.pi / 3)))
    # Inductances.
    link = []
    sides = phase_sides(m)
    load = sum(sign * s.sides[slot, side] for slot, side, sign in sides[0])
    a = s.solve(load)
    link = [sum(sign * (s.sides[slot, side] @ a) for slot, side, sign in sides[k]) for k in range(3)]
    line = 2 * link[0] - link[1] - link[2]
    b = np.fft.rfft(field) / len(field) * 2
    nu = np.arange(len(b))
    # A = Re sum c e^{i nu phi}; B_r = A_phi / r.
    br = 1j * nu * b / s.mid
    top = min(len(br) - 1, n // 2)
    angles = np.arange(180) * (360 / p / 180)
    wave = np.real(sum(br[k] * np.exp(1j * k * np.radians(angles)) for k in range(1, top)))
    return dict(
        emf_sine=sine, emf_cosine=cosine, kv=kv, line_inductance=line,
        self_inductance=link[0], mutual_inductance=0.5 * (link[1] + link[2]),
        field=wave, field_fundamental=abs(br[p]),
        torque=np.array(torque), torque_step=360 / n * step, dofs=s.basis.N,
        angle0=np.degrees(-zero) / p)


def numbers(values, digits=7):
    return "[" + ", ".join(f"{v:.{digits}g}" for v in values) + "]"


def write(name, m, out):
    results = []
    for n in m["sizes"]:
        results.append(run(name, m, n))
        r = results[-1]
        print(f"{name} {n}: {r['dofs']} unknowns, kv {r['kv']:.6g}, L {r['line_inductance']:.6g}, "
              f"B1 {r['field_fundamental']:.6g}, cogging {np.abs(r['torque']).max():.5g}", flush=True)
    coarse, fine = results[-2:]
    change = lambda key: abs(fine[key] / coarse[key] - 1)
    e = fine["emf_sine"]
    out.append(f"[[machine]]\nname = \"{name}\"")
    out.append(f"construction = \"{'outrunner' if m['outrunner'] else 'inrunner'}\"")
    out.append(f"slots = {m['slots']}\npoles = {m['poles']}\ncoil_span = {m['span']}")
    out.append(f"slotting = {'true' if m['slotting'] else 'false'}\nmagnetisation = \"{m['magnetisation']}\"")
    out.append(f"magnet_arc = {m['arc']!r}\nmagnet_remanence_t = {REMANENCE}\nmagnet_permeability = {MU_R}")
    for key, short in [("bore_radius_m", "bore"), ("air_gap_m", "gap"), ("magnet_thickness_m", "magnet"),
                       ("slot_opening_m", "opening"), ("tooth_tip_m", "tip"), ("slot_depth_m", "depth"),
                       ("tooth_width_m", "tooth")]:
        out.append(f"{key} = {m[short]!r}")
    out.append(f"unknowns = {fine['dofs']}")
    out.append(f"change_kv = {change('kv'):.2g}\nchange_line_inductance = {change('line_inductance'):.2g}")
    out.append(f"change_emf_to_order_19 = {np.max(np.abs(fine['emf_sine'][:10] - coarse['emf_sine'][:10])) / abs(e[0]):.2g}")
    out.append(f"kv_rpm_per_v = {fine['kv']:.8g}\nline_inductance_h = {fine['line_inductance']:.8g}")
    out.append(f"self_inductance_h = {fine['self_inductance']:.8g}\nmutual_inductance_h = {fine['mutual_inductance']:.8g}")
    out.append(f"emf_sine_v_s = {numbers(fine['emf_sine'])}\nemf_cosine_v_s = {numbers(fine['emf_cosine'])}")
    out.append(f"field_fundamental_t = {fine['field_fundamental']:.8g}")
    out.append(f"field_t = {numbers(fine['field'], 6)}")
    out.append(f"torque_step_deg = {fine['torque_step']:.10g}\ntorque_nm = {numbers(fine['torque'])}")
    peak = np.abs(fine["torque"]).max()
    out.append(f"change_cogging_peak = {abs(peak / max(np.abs(coarse['torque']).max(), 1e-30) - 1):.2g}\n")


def main():
    names = sys.argv[1:] or list(MACHINES)
    out = [f"# Written by field_fem.py: scikit-fem {skfem.__version__}, numpy {np.__version__}, "
           f"scipy {scipy.__version__}.",
           "# Per metre of length and one conductor a coil side; see the script for every convention.",
           "# field_t: radial flux density at 180 even angles over a pole pair, from the middle of",
           "# magnet 0 in the middle of slot 0, outwards positive. Torque from there in even steps.",
           "# EMF: orders 1, 3, 5 ..., with the fundamental a sine, per rad/s.\n"]
    for name in names:
        write(name, MACHINES[name], out)
    target = __file__.rsplit("/", 1)[0] + "/field_fem.toml" if not sys.argv[1:] else "/dev/stdout"
    with open(target, "w", encoding="utf-8") as file:
        file.write("\n".join(out))


if __name__ == "__main__":
    main()
