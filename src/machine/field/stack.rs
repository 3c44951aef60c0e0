//! The sectors of one slot matched to each other: one symmetric positive system for the flows
//! through all apertures between them, modes of even and odd parity apart.

use super::MU_0;
use super::dense::{Cholesky, Square, dot};
use super::modes::{halves, junction, wave_number};
use super::slot::{Copper, Pattern, Sector};

/// All sectors for the modes of one parity. Unknown are the modes n ≥ 1 of q over each aperture
/// between two sectors; the mode 0 is the current below it, and known.
pub(super) struct Stack<'a> {
    sectors: &'a [Sector],
    odd: bool,
    /// Mode numbers in each sector, mode 0 included where even.
    modes: Vec<Vec<usize>>,
    /// For each junction: the first unknown, and the mode numbers.
    unknowns: Vec<(usize, Vec<usize>)>,
    /// For each junction, rows as `modes` of the sector above and below, columns as the modes of
    /// the aperture, mode 0 included where even.
    above: Vec<Vec<Vec<f64>>>,
    below: Vec<Vec<Vec<f64>>>,
    system: Cholesky,
}

/// What one pattern does in one sector.
struct Source {
    /// Coefficients of J in A/m², by `modes`.
    density: Vec<f64>,
    /// Coefficients of A_p / r² in Wb/m³: a solution of A_ξξ − λ² A = −μ₀ J r².
    particular: Vec<f64>,
}

impl<'a> Stack<'a> {
    pub(super) fn new(sectors: &'a [Sector], n_modes: &[usize], odd: bool) -> Self {
        let modes: Vec<Vec<usize>> = n_modes
            .iter()
            .map(|&n| (usize::from(odd)..n).step_by(2).collect())
            .collect();
        let (mut above, mut below, mut unknowns) = (Vec::new(), Vec::new(), Vec::new());
        let mut first = 0;
        for idx in 1..sectors.len() {
            let upper_is_wide = sectors[idx - 1].arc_rad > sectors[idx].arc_rad;
            let (wide, narrow) = if upper_is_wide {
                (idx - 1, idx)
            } else {
                (idx, idx - 1)
            };
            let all = junction(
                sectors[wide].arc_rad,
                n_modes[wide],
                sectors[narrow].arc_rad,
                n_modes[narrow],
            );
            let pick = |row: usize| modes[narrow].iter().map(|&n| all[row][n]).collect();
            let e: Vec<Vec<f64>> = modes[wide].iter().map(|&row| pick(row)).collect();
            let unit: Vec<Vec<f64>> = (0..modes[narrow].len())
                .map(|row| {
                    let mut entries = vec![0.0; modes[narrow].len()];
                    entries[row] = 1.0;
                    entries
                })
                .collect();
            let (upper, lower) = if upper_is_wide { (e, unit) } else { (unit, e) };
            above.push(upper);
            below.push(lower);
            let numbers: Vec<usize> = modes[narrow].iter().copied().filter(|&n| n > 0).collect();
            let n_unknowns = numbers.len();
            unknowns.push((first, numbers));
            first += n_unknowns;
        }
        let mut stack = Self {
            sectors,
            odd,
            modes,
            unknowns,
            above,
            below,
            system: Square::zero(0).cholesky(),
        };
        stack.system = stack.assemble(first).cholesky();
        stack
    }

    /// Columns of an aperture's matrix that are unknown: without the mode 0.
    fn first_column(&self) -> usize {
        usize::from(!self.odd)
    }

    fn assemble(&self, n_unknowns: usize) -> Square {
        let mut out = Square::zero(n_unknowns);
        let skip = self.first_column();
        // Adds ± Aᵀ diag(w) B, where sector modes n ≥ 1 are the inner index.
        let mut congruent =
            |a: &[Vec<f64>], a_first: usize, b: &[Vec<f64>], b_first: usize, weights: &[f64]| {
                for (mode, weight) in weights.iter().enumerate() {
                    let (left, right) = (&a[mode][skip..], &b[mode][skip..]);
                    for (i, l) in left.iter().enumerate() {
                        for (j, r) in right.iter().enumerate() {
                            out.add(a_first + i, b_first + j, weight * l * r);
                        }
                    }
                }
            };
        for (idx, sector) in self.sectors.iter().enumerate() {
            let port = |n: usize| {
                if n == 0 {
                    (0.0, 0.0)
                } else {
                    sector.two_port(n)
                }
            };
            let coth: Vec<f64> = self.modes[idx].iter().map(|&n| port(n).0).collect();
            let minus_csch: Vec<f64> = self.modes[idx].iter().map(|&n| -port(n).1).collect();
            // The aperture above sees this sector from its top, the one below from its bottom.
            let top = idx
                .checked_sub(1)
                .map(|j| (&self.below[j], self.unknowns[j].0));
            let bottom = self.above.get(idx).map(|e| (e, self.unknowns[idx].0));
            if let Some((e, first)) = top {
                congruent(e, first, e, first, &coth);
            }
            if let Some((e, first)) = bottom {
                congruent(e, first, e, first, &coth);
            }
            if let (Some((t, t_first)), Some((b, b_first))) = (top, bottom) {
                congruent(t, t_first, b, b_first, &minus_csch);
                congruent(b, b_first, t, t_first, &minus_csch);
            }
        }
        out
    }

    /// The impedance of these modes at the opening, and what each pattern of this parity does.
    pub(super) fn fill(&self, impedance: &mut Square, patterns: &mut [Pattern]) {
        for (column, &mode) in self.modes[0].iter().enumerate() {
            if mode == 0 {
                continue;
            }
            let mut q_top = vec![0.0; self.modes[0].len()];
            q_top[column] = 1.0;
            let (u, _) = self.ends(&q_top, None);
            for (row, &n) in self.modes[0].iter().enumerate() {
                if n > 0 {
                    impedance.add(n - 1, mode - 1, u[0][0][row]);
                }
            }
        }
        let indices: Vec<usize> = (0..patterns.len())
            .filter(|&k| patterns[k].odd == self.odd)
            .collect();
        let sources: Vec<Vec<Source>> = indices
            .iter()
            .map(|&k| self.sources(patterns[k].flow))
            .collect();
        let n_patterns = patterns.len();
        let n_opening = impedance.size();
        for (i, &k) in indices.iter().enumerate() {
            let (u, q) = self.ends(&vec![0.0; self.modes[0].len()], Some(&sources[i]));
            let pattern = &mut patterns[k];
            pattern.potential = vec![0.0; n_opening];
            for (row, &n) in self.modes[0].iter().enumerate() {
                if n > 0 {
                    pattern.potential[n - 1] = u[0][0][row];
                }
            }
            pattern.leakage = vec![0.0; n_patterns];
            for (j, &other) in indices.iter().enumerate() {
                pattern.leakage[other] = self.linkage(&sources[j], &sources[i], &u, &q);
            }
        }
    }

    /// u and q at the top and bottom of each sector, by `modes`, for q given at the opening
    /// (n ≥ 1) and a pattern's sources; A counted from its mean over the opening.
    #[expect(clippy::type_complexity, reason = "[sector][top, bottom][mode], twice")]
    fn ends(
        &self,
        q_top: &[f64],
        sources: Option<&[Source]>,
    ) -> (Vec<[Vec<f64>; 2]>, Vec<[Vec<f64>; 2]>) {
        let n_sectors = self.sectors.len();
        let particular = |idx: usize, row: usize, end: usize| -> (f64, f64) {
            sources.map_or((0.0, 0.0), |sources| {
                let r = self.sectors[idx].radii_m[end];
                let value = sources[idx].particular[row] * r * r;
                (value, -2.0 * self.sectors[idx].sign() * value)
            })
        };
        // The mode 0 of q, from the bottom up.
        let mut q: Vec<[Vec<f64>; 2]> = self
            .modes
            .iter()
            .map(|modes| [vec![0.0; modes.len()], vec![0.0; modes.len()]])
            .collect();
        q[0][0].copy_from_slice(q_top);
        let mut aperture: Vec<Vec<f64>> = self
            .above
            .iter()
            .map(|e| vec![0.0; e.first().map_or(0, Vec::len)])
            .collect();
        if !self.odd {
            for idx in (0..n_sectors).rev() {
                let mut bottom = 0.0;
                if idx + 1 < n_sectors {
                    aperture[idx][0] = q[idx + 1][0][0] / self.below[idx][0][0];
                    bottom = self.above[idx][0][0] * aperture[idx][0];
                }
                let inside = particular(idx, 0, 1).1 - particular(idx, 0, 0).1;
                q[idx][0][0] = bottom - inside;
            }
        }
        // u of all that is known, with the unknown part of each aperture still 0.
        let known_q: Vec<[Vec<f64>; 2]> = (0..n_sectors)
            .map(|idx| self.sector_q(idx, &aperture, &q[0][0]))
            .collect();
        let mut rhs = vec![0.0; self.unknowns.last().map_or(0, |(first, n)| first + n.len())];
        let skip = self.first_column();
        for (idx, known) in known_q.iter().enumerate() {
            let u = self.sector_u(idx, known, particular);
            if let Some(e) = self.above.get(idx) {
                accumulate(
                    &mut rhs[self.unknowns[idx].0..],
                    e,
                    &u[1],
                    &self.modes[idx],
                    skip,
                    1.0,
                );
            }
            if let Some(j) = idx.checked_sub(1) {
                accumulate(
                    &mut rhs[self.unknowns[j].0..],
                    &self.below[j],
                    &u[0],
                    &self.modes[idx],
                    skip,
                    -1.0,
                );
            }
        }
        self.system.solve(&mut rhs);
        for (idx, (first, numbers)) in self.unknowns.iter().enumerate() {
            aperture[idx][skip..].copy_from_slice(&rhs[*first..first + numbers.len()]);
        }
        let q: Vec<[Vec<f64>; 2]> = (0..n_sectors)
            .map(|idx| self.sector_q(idx, &aperture, &q[0][0]))
            .collect();
        let mut u: Vec<[Vec<f64>; 2]> = (0..n_sectors)
            .map(|idx| self.sector_u(idx, &q[idx], particular))
            .collect();
        if !self.odd {
            // The mode 0 of u, from the top down: the mean over each aperture agrees.
            for idx in 0..n_sectors {
                let top = match idx.checked_sub(1) {
                    None => 0.0,
                    Some(j) => {
                        let upper: f64 = (0..self.modes[j].len())
                            .map(|row| self.above[j][row][0] * u[j][1][row])
                            .sum();
                        let lower: f64 = (1..self.modes[idx].len())
                            .map(|row| self.below[j][row][0] * u[idx][0][row])
                            .sum();
                        (upper - lower) / self.below[j][0][0]
                    }
                };
                let (p_top, pq_top) = particular(idx, 0, 0);
                let (p_bottom, _) = particular(idx, 0, 1);
                u[idx][0][0] = top;
                u[idx][1][0] =
                    top + p_bottom - p_top - (q[idx][0][0] - pq_top) * self.sectors[idx].depth();
            }
        }
        (u, q)
    }

    /// q at the top and bottom of a sector from the apertures beside it.
    fn sector_q(&self, idx: usize, aperture: &[Vec<f64>], q_top: &[f64]) -> [Vec<f64>; 2] {
        let map = |e: &Vec<Vec<f64>>, y: &[f64]| e.iter().map(|row| dot(row, y)).collect();
        let top = match idx.checked_sub(1) {
            None => q_top.to_vec(),
            Some(j) => map(&self.below[j], &aperture[j]),
        };
        let bottom = match self.above.get(idx) {
            None => vec![0.0; self.modes[idx].len()],
            Some(e) => map(e, &aperture[idx]),
        };
        [top, bottom]
    }

    /// u at the top and bottom of a sector, n ≥ 1, from q there.
    fn sector_u(
        &self,
        idx: usize,
        q: &[Vec<f64>; 2],
        particular: impl Fn(usize, usize, usize) -> (f64, f64),
    ) -> [Vec<f64>; 2] {
        let mut u = [
            vec![0.0; self.modes[idx].len()],
            vec![0.0; self.modes[idx].len()],
        ];
        for (row, &n) in self.modes[idx].iter().enumerate() {
            if n == 0 {
                continue;
            }
            let (coth, csch) = self.sectors[idx].two_port(n);
            let ((top, q_top), (bottom, q_bottom)) =
                (particular(idx, row, 0), particular(idx, row, 1));
            let (a, b) = (q[0][row] - q_top, q[1][row] - q_bottom);
            u[0][row] = top + coth * a - csch * b;
            u[1][row] = bottom + csch * a - coth * b;
        }
        u
    }

    /// The sources of a pattern, sector by sector.
    fn sources(&self, flow: [f64; 3]) -> Vec<Source> {
        let copper_m2 = |kind: Copper| -> f64 {
            let counts = |sector: &&Sector| match kind {
                Copper::Whole => sector.copper != Copper::None,
                kind => sector.copper == kind,
            };
            self.sectors
                .iter()
                .filter(counts)
                .map(Sector::area_m2)
                .sum()
        };
        let areas = [Copper::Whole, Copper::Top, Copper::Bottom].map(copper_m2);
        self.sectors
            .iter()
            .zip(&self.modes)
            .map(|(sector, modes)| {
                let j: f64 = [Copper::Whole, Copper::Top, Copper::Bottom]
                    .into_iter()
                    .zip(flow)
                    .zip(areas)
                    .filter(|((kind, current), _)| {
                        *current != 0.0
                            && sector.copper != Copper::None
                            && (*kind == Copper::Whole || *kind == sector.copper)
                    })
                    .map(|((_, current), area)| current / area)
                    .sum();
                let arc = sector.arc_rad;
                let odd = halves(arc, modes.last().map_or(0, |n| n + 1));
                let density: Vec<f64> = modes
                    .iter()
                    .map(|&n| match n {
                        0 => j * arc.sqrt(),
                        n => j * odd[n],
                    })
                    .collect();
                let particular = modes
                    .iter()
                    .zip(&density)
                    .map(|(&n, density)| {
                        let lambda = wave_number(n, arc);
                        // At λ = 2 the solution has a logarithm; a nudge of the order is as good.
                        let gap = 4.0 - lambda * lambda;
                        let gap = if gap.abs() < 1e-6 { 1e-6 } else { gap };
                        -MU_0 * density / gap
                    })
                    .collect();
                Source {
                    density,
                    particular,
                }
            })
            .collect()
    }

    /// ∫ A J over the slot in Wb/m, J of the pattern `of`, A of the pattern `by` with these ends.
    ///
    /// With P the particular solution of `of`, Green's identity gives μ₀ ∫ A J r² dξ =
    /// −[A P′ − A′ P] + ∫ P μ₀ J_by r² dξ for each mode.
    fn linkage(
        &self,
        of: &[Source],
        by: &[Source],
        u: &[[Vec<f64>; 2]],
        q: &[[Vec<f64>; 2]],
    ) -> f64 {
        let mut sum = 0.0;
        for (idx, sector) in self.sectors.iter().enumerate() {
            let [r_top, r_bottom] = sector.radii_m;
            let fourth = (libm::pow(r_bottom, 4.0) - libm::pow(r_top, 4.0)).abs() / 4.0;
            for row in 0..self.modes[idx].len() {
                let p = of[idx].particular[row];
                let boundary = |end: usize| {
                    let r = sector.radii_m[end];
                    let value = p * r * r;
                    let slope = 2.0 * sector.sign() * value;
                    u[idx][end][row] * slope + q[idx][end][row] * value
                };
                sum += boundary(0) - boundary(1) + p * MU_0 * by[idx].density[row] * fourth;
            }
        }
        sum / MU_0
    }
}

/// Adds ± Eᵀ u for the unknown columns, sector modes n ≥ 1.
fn accumulate(rhs: &mut [f64], e: &[Vec<f64>], u: &[f64], modes: &[usize], skip: usize, sign: f64) {
    for ((row, u), &n) in e.iter().zip(u).zip(modes) {
        if n > 0 {
            for (entry, e) in rhs.iter_mut().zip(&row[skip..]) {
                *entry += sign * e * u;
            }
        }
    }
}
