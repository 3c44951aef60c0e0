//! The circuit of one topology: legs, windings, and which diodes conduct.
//!
//! Derivatives are kept as voltages across the inductance (L di/dt), so that conditions on
//! open legs and on diodes that are about to conduct have one unit.

use wyebench::drive::LegState;

/// What connects a terminal to a rail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// Upper switch on.
    SwitchHigh,
    /// Lower switch on.
    SwitchLow,
    /// Upper diode conducts; lead current negative.
    DiodeHigh,
    /// Lower diode conducts; lead current positive.
    DiodeLow,
    /// Nothing conducts; lead current zero.
    Open,
}

impl Link {
    /// True where current flows from or to the positive rail.
    pub const fn on_positive_rail(self) -> bool {
        matches!(self, Self::SwitchHigh | Self::DiodeHigh)
    }

    /// True for a conducting diode.
    pub const fn is_diode(self) -> bool {
        matches!(self, Self::DiodeHigh | Self::DiodeLow)
    }
}

/// Constants of the circuit.
#[derive(Clone, Copy, Debug)]
pub struct Circuit {
    /// True for delta.
    pub delta: bool,
    /// Phase resistance in ohm.
    pub resistance: f64,
    /// One switch, all its transistors in parallel, in ohm.
    pub switch: f64,
    /// Diode drop in V.
    pub diode_drop: f64,
    /// Diode slope in ohm.
    pub diode_slope: f64,
}

/// A star with at least two legs connected, its topology turned into factors once per piece:
/// the same equations as [`Circuit::solve`], without a decision in them.
#[derive(Clone, Copy, Debug, Default)]
pub struct StarFactors {
    /// 1 for a connected leg, 0 for an open one.
    connected: [f64; 3],
    /// 1 for a leg on the positive rail.
    positive: [f64; 3],
    /// Diode drop with its sign in V.
    drop: [f64; 3],
    /// Resistance of switch or diode in ohm.
    slope: [f64; 3],
    resistance: f64,
    per_connected: f64,
}

impl StarFactors {
    /// Voltages and current slopes.
    #[inline]
    pub fn flow(&self, i: [f64; 3], e: [f64; 3], v_dc: f64) -> Flow {
        let mut terminal = [0.0; 3];
        let mut over = [0.0; 3];
        for k in 0..3 {
            terminal[k] = self.drop[k] + self.positive[k] * v_dc - self.slope[k] * i[k];
            over[k] = self.connected[k] * (terminal[k] - self.resistance * i[k] - e[k]);
        }
        let star_point = (over[0] + over[1] + over[2]) * self.per_connected;
        let mut l_di = [0.0; 3];
        for k in 0..3 {
            let open = 1.0 - self.connected[k];
            l_di[k] = over[k] - self.connected[k] * star_point;
            terminal[k] = self.connected[k] * terminal[k] + open * (e[k] + star_point);
        }
        Flow {
            winding_l_di: l_di,
            terminal,
            lead: i,
            lead_l_di: l_di,
            all_open_margin: f64::INFINITY,
        }
    }
}

/// Voltages and current slopes of one instant.
#[derive(Clone, Copy, Debug, Default)]
pub struct Flow {
    /// L di/dt of the three windings in V.
    pub winding_l_di: [f64; 3],
    /// Terminal voltages in V.
    pub terminal: [f64; 3],
    /// Lead currents in A.
    pub lead: [f64; 3],
    /// L d/dt of the lead currents in V.
    pub lead_l_di: [f64; 3],
    /// With all legs open: how far the largest voltage between two terminals stays below what
    /// makes two diodes conduct, in V. Otherwise infinite.
    pub all_open_margin: f64,
}

impl Circuit {
    /// Voltage that a link gives its terminal: open-circuit value and slope over the current.
    fn source(&self, link: Link, v_dc: f64) -> (f64, f64) {
        match link {
            Link::SwitchHigh => (v_dc, self.switch),
            Link::SwitchLow => (0.0, self.switch),
            Link::DiodeHigh => (v_dc + self.diode_drop, self.diode_slope),
            Link::DiodeLow => (-self.diode_drop, self.diode_slope),
            Link::Open => (0.0, 0.0),
        }
    }

    /// Factors of a star with at least two legs connected; `None` for anything else.
    pub fn star_factors(&self, links: [Link; 3]) -> Option<StarFactors> {
        let n = links.iter().filter(|&&link| link != Link::Open).count();
        if self.delta || n < 2 {
            return None;
        }
        let mut factors = StarFactors {
            resistance: self.resistance,
            per_connected: 1.0 / n as f64,
            ..StarFactors::default()
        };
        for k in 0..3 {
            let (drop, slope) = self.source(links[k], 0.0);
            factors.drop[k] = drop;
            factors.slope[k] = slope;
            factors.connected[k] = f64::from(u8::from(links[k] != Link::Open));
            factors.positive[k] = f64::from(u8::from(links[k].on_positive_rail()));
        }
        Some(factors)
    }

    /// Lead currents from winding currents.
    pub fn leads(&self, i: [f64; 3]) -> [f64; 3] {
        if self.delta {
            [i[0] - i[2], i[1] - i[0], i[2] - i[1]]
        } else {
            i
        }
    }

    /// Solves the circuit for winding currents `i`, winding EMFs `e` and bridge voltage.
    pub fn solve(&self, links: [Link; 3], i: [f64; 3], e: [f64; 3], v_dc: f64) -> Flow {
        let lead = self.leads(i);
        let mut flow = Flow {
            lead,
            all_open_margin: f64::INFINITY,
            ..Flow::default()
        };
        let mut connected = 0;
        for k in 0..3 {
            if links[k] != Link::Open {
                let (volts, slope) = self.source(links[k], v_dc);
                flow.terminal[k] = volts - slope * lead[k];
                connected += 1;
            }
        }
        if connected >= 2 {
            if self.delta {
                self.delta_driven(links, i, e, &mut flow);
            } else {
                self.star_driven(links, connected, i, e, &mut flow);
            }
            return flow;
        }
        // No lead current can flow; what is left is the circulating current of a delta.
        let mut potential = e;
        if self.delta {
            let around = -(self.resistance * (i[0] + i[1] + i[2]) + e[0] + e[1] + e[2]) / 3.0;
            flow.winding_l_di = [around; 3];
            let u = self.resistance * i[0] + around + e[0];
            let v = self.resistance * i[1] + around + e[1];
            potential = [0.0, -u, -u - v];
        }
        let shift = if let Some(k) = links.iter().position(|&link| link != Link::Open) {
            flow.terminal[k] - potential[k]
        } else {
            let (low, high) = ends(potential);
            flow.all_open_margin = v_dc + 2.0 * self.diode_drop - (high - low);
            let mean = (potential[0] + potential[1] + potential[2]) / 3.0;
            let floor = -self.diode_drop - low;
            let ceiling = v_dc + self.diode_drop - high;
            (0.5 * v_dc - mean).min(ceiling).max(floor)
        };
        for (terminal, p) in flow.terminal.iter_mut().zip(potential) {
            *terminal = p + shift;
        }
        flow
    }

    fn star_driven(
        &self,
        links: [Link; 3],
        connected: usize,
        i: [f64; 3],
        e: [f64; 3],
        flow: &mut Flow,
    ) {
        let mut over = [0.0; 3];
        let mut sum = 0.0;
        for k in 0..3 {
            if links[k] != Link::Open {
                over[k] = flow.terminal[k] - self.resistance * i[k] - e[k];
                sum += over[k];
            }
        }
        let star_point = sum / connected as f64;
        for k in 0..3 {
            if links[k] == Link::Open {
                flow.terminal[k] = e[k] + star_point;
            } else {
                flow.winding_l_di[k] = over[k] - star_point;
            }
        }
        flow.lead_l_di = flow.winding_l_di;
    }

    fn delta_driven(&self, links: [Link; 3], i: [f64; 3], e: [f64; 3], flow: &mut Flow) {
        let open = links.iter().position(|&link| link == Link::Open);
        if let Some(x) = open {
            let (after, before) = ((x + 1) % 3, (x + 2) % 3);
            // Windings `x` (from terminal x) and `before` (to it) carry the same current.
            flow.terminal[x] = 0.5
                * (flow.terminal[after]
                    + flow.terminal[before]
                    + self.resistance * (i[x] - i[before])
                    + e[x]
                    - e[before]);
        }
        for k in 0..3 {
            flow.winding_l_di[k] =
                flow.terminal[k] - flow.terminal[(k + 1) % 3] - self.resistance * i[k] - e[k];
        }
        if let Some(x) = open {
            // Equal but for rounding; made equal to the bit, so that the lead stays at zero.
            let before = (x + 2) % 3;
            let both = 0.5 * (flow.winding_l_di[x] + flow.winding_l_di[before]);
            flow.winding_l_di[x] = both;
            flow.winding_l_di[before] = both;
        }
        flow.lead_l_di = self.leads(flow.winding_l_di);
    }

    /// Decides what connects each leg. Legs with a gate on follow it; a floating leg with
    /// current has the diode of that direction; all floating legs without current are decided
    /// together: the one combination in which every open leg is within its limits and every
    /// diode's current grows.
    pub fn decide(&self, gates: [LegState; 3], i: [f64; 3], e: [f64; 3], v_dc: f64) -> [Link; 3] {
        let lead = self.leads(i);
        let mut links = [Link::Open; 3];
        let mut free = [false; 3];
        for k in 0..3 {
            links[k] = match gates[k] {
                LegState::High => Link::SwitchHigh,
                LegState::Low => Link::SwitchLow,
                LegState::Floating if lead[k] > 0.0 => Link::DiodeLow,
                LegState::Floating if lead[k] < 0.0 => Link::DiodeHigh,
                LegState::Floating => {
                    free[k] = true;
                    Link::Open
                }
            };
        }
        if free == [false; 3] {
            return links;
        }
        let choices = |k: usize| -> &'static [Link] {
            if free[k] {
                &[Link::Open, Link::DiodeLow, Link::DiodeHigh]
            } else {
                &[Link::Open]
            }
        };
        let mut best = (f64::NEG_INFINITY, links);
        for &u in choices(0) {
            for &v in choices(1) {
                for &w in choices(2) {
                    let mut tried = links;
                    for (k, link) in [u, v, w].into_iter().enumerate() {
                        if free[k] {
                            tried[k] = link;
                        }
                    }
                    let margin = self.margin(tried, free, i, e, v_dc);
                    if margin > best.0 {
                        best = (margin, tried);
                    }
                }
            }
        }
        best.1
    }

    /// The least margin, in V, by which a combination meets its own conditions.
    fn margin(
        &self,
        links: [Link; 3],
        free: [bool; 3],
        i: [f64; 3],
        e: [f64; 3],
        v_dc: f64,
    ) -> f64 {
        let connected = links.iter().filter(|&&link| link != Link::Open).count();
        let flow = self.solve(links, i, e, v_dc);
        if connected == 0 {
            return 0.5 * flow.all_open_margin;
        }
        let mut least = f64::INFINITY;
        for k in 0..3 {
            if !free[k] {
                continue;
            }
            least = least.min(match links[k] {
                Link::Open => {
                    let v = flow.terminal[k];
                    (v + self.diode_drop).min(v_dc + self.diode_drop - v)
                }
                _ if connected == 1 => f64::NEG_INFINITY,
                Link::DiodeLow => flow.lead_l_di[k],
                _ => -flow.lead_l_di[k],
            });
        }
        least
    }
}

/// Lowest and highest of three.
pub fn ends(v: [f64; 3]) -> (f64, f64) {
    (v[0].min(v[1]).min(v[2]), v[0].max(v[1]).max(v[2]))
}
