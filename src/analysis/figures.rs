//! The figures of a run, from the exact integrals of the simulator.

use std::f64::consts::TAU;

use super::figure::{Figure, Group, Input, Source, Value};
use super::number::Unit;
use super::{EnergyAccount, RunFigures, WindowTotals};
use crate::machine::Machine;
use crate::setup::{Bench, Setup};

mod account;

/// What else the simulator says at the end of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct RunEnd {
    /// Pole pairs p of the machine; at least 1.
    pub pole_pairs: u32,
    /// Speed at the end of the run in rad/s, signed.
    pub final_speed_rad_s: f64,
    /// Step changes of the whole run.
    pub commutations: u64,
    /// False when a forced drive has lost the rotor.
    pub in_step: bool,
    /// What a person should know, in sentences.
    pub warnings: Vec<String>,
    /// How large the quantities of this run can become.
    pub scales: Scales,
}

/// How large the quantities of a run can become, from which follows what is dust of rounding. SI
/// units; 0 where nothing is known, so that nothing is taken for dust.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Scales {
    /// Highest voltage over the resistance of one winding, or what its inductance lets rise in the run,
    /// in A.
    pub current_a: f64,
    /// Torque of that current, with cogging and constant loads, in N m.
    pub torque_nm: f64,
    /// Highest voltage times that current, in W.
    pub power_w: f64,
}

impl Scales {
    /// Of a setup, its changes included.
    #[must_use]
    pub fn of(setup: &Setup, machine: &Machine) -> Self {
        let benches = || {
            std::iter::once(&setup.bench).chain(setup.changes.iter().map(|change| &change.bench))
        };
        let most = |of: fn(&Bench) -> f64| benches().map(of).fold(0.0, f64::max);
        let driven_v = setup.run.start_speed_rad_s.abs() / machine.kv_rad_per_v_s;
        let voltage_v = most(|bench| bench.supply.voltage_v).max(driven_v);
        // where next to no resistance bounds a current, the inductance does
        let rise_ohm = machine.phase_inductance_h / setup.run.duration_s;
        let current_a = voltage_v / machine.phase_resistance_ohm.max(rise_ohm);
        let loads_nm = most(|bench| bench.load.constant_nm + bench.load.gravity_nm.abs());
        Self {
            current_a,
            torque_nm: current_a / machine.kv_rad_per_v_s
                + machine.cogging_peak_nm.abs()
                + loads_nm,
            power_w: voltage_v * current_a,
        }
    }
}

/// Part of its scale below which a quantity is dust: the rounding of some tens of operations in double
/// precision (2.2e-16 each). A brake at rest, a duty of 0 and a lost step were seen to leave less than
/// 1e-16; a friction loss, which no difference makes, has no such limit.
const DUST: f64 = 1e-14;

/// Angle in rad below which a turn is dust: angles are held as numbers about 1.
const ANGLE_DUST_RAD: f64 = 1e-12;

const STEADY: Source = Source::definition("steady figures");
const RIPPLE: Source = Source::definition("torque ripple");
const CIRCUIT: Source = Source::definition("supply current");
const ANGLES: Source = Source::definition("angles and speed");

impl RunFigures {
    /// All figures of a run, once as the contract's keys and once as figures that explain
    /// themselves, in the order of the keys.
    ///
    /// A figure that would not be a finite number is null, and says why.
    #[must_use]
    pub fn from_totals(
        totals: &WindowTotals,
        account: &EnergyAccount,
        end: &RunEnd,
    ) -> (Self, Vec<Figure>) {
        let sheet = Sheet {
            totals,
            account,
            end,
            window_s: totals.end_s - totals.start_s,
        };
        let mut figures = sheet.all();
        for figure in &mut figures {
            figure.dust = sheet.dust(figure.key);
        }
        let number = |key: &str| {
            figures
                .iter()
                .find(|figure| figure.key == key)
                .and_then(Figure::number)
        };
        let run_figures = Self {
            mean_speed_rpm: number("mean_speed_rpm"),
            final_speed_rpm: number("final_speed_rpm"),
            electrical_frequency_hz: number("electrical_frequency_hz"),
            torque_mean_nm: number("torque_mean_nm"),
            torque_ripple_pp_nm: number("torque_ripple_pp_nm"),
            torque_ripple_rms_nm: number("torque_ripple_rms_nm"),
            load_torque_mean_nm: number("load_torque_mean_nm"),
            supply_current_mean_a: number("supply_current_mean_a"),
            supply_current_rms_a: number("supply_current_rms_a"),
            phase_current_rms_a: number("phase_current_rms_a"),
            phase_current_peak_a: number("phase_current_peak_a"),
            supply_power_w: number("supply_power_w"),
            shaft_power_w: number("shaft_power_w"),
            copper_loss_w: number("copper_loss_w"),
            bridge_loss_w: number("bridge_loss_w"),
            friction_loss_w: number("friction_loss_w"),
            efficiency: number("efficiency"),
            energy_residual: number("energy_residual"),
            window_s: number("window_s"),
            window_kind: totals.kind,
            commutations: end.commutations,
            in_step: end.in_step,
            warnings: end.warnings.clone(),
        };
        (run_figures, figures)
    }

    /// The keys of the contract, in its order.
    pub const KEYS: [&str; 23] = [
        "mean_speed_rpm",
        "final_speed_rpm",
        "electrical_frequency_hz",
        "torque_mean_nm",
        "torque_ripple_pp_nm",
        "torque_ripple_rms_nm",
        "load_torque_mean_nm",
        "supply_current_mean_a",
        "supply_current_rms_a",
        "phase_current_rms_a",
        "phase_current_peak_a",
        "supply_power_w",
        "shaft_power_w",
        "copper_loss_w",
        "bridge_loss_w",
        "friction_loss_w",
        "efficiency",
        "energy_residual",
        "window_s",
        "window_kind",
        "commutations",
        "in_step",
        "warnings",
    ];
}

/// What all figures are made from.
struct Sheet<'a> {
    totals: &'a WindowTotals,
    account: &'a EnergyAccount,
    end: &'a RunEnd,
    window_s: f64,
}

/// What a mean is the mean of.
struct Mean {
    key: &'static str,
    name: &'static str,
    symbol: &'static str,
    group: Group,
    unit: Unit,
    formula: &'static str,
    integral: Input,
    source: Source,
    note: &'static str,
}

impl Sheet<'_> {
    fn all(&self) -> Vec<Figure> {
        let mut figures = Vec::with_capacity(RunFigures::KEYS.len());
        self.speeds(&mut figures);
        self.torques(&mut figures);
        self.currents(&mut figures);
        self.powers(&mut figures);
        self.account(&mut figures);
        figures
    }

    /// What is dust in a figure: what rounding left of larger numbers, or of a long decay.
    fn dust(&self, key: &str) -> f64 {
        let Scales {
            current_a,
            torque_nm,
            power_w,
        } = self.end.scales;
        let rad_s = ANGLE_DUST_RAD / self.window_s;
        match key {
            "mean_speed_rpm" | "final_speed_rpm" => rad_s * 60.0 / TAU,
            "electrical_frequency_hz" => f64::from(self.end.pole_pairs) * rad_s / TAU,
            "torque_mean_nm"
            | "torque_ripple_pp_nm"
            | "torque_ripple_rms_nm"
            | "load_torque_mean_nm" => DUST * torque_nm,
            "supply_current_mean_a"
            | "supply_current_rms_a"
            | "phase_current_rms_a"
            | "phase_current_peak_a" => DUST * current_a,
            "supply_power_w" | "shaft_power_w" | "copper_loss_w" | "bridge_loss_w" => {
                DUST * power_w
            }
            _ => 0.0,
        }
    }

    fn length(&self) -> Input {
        Input::new(
            "T",
            "length of the measuring window",
            self.window_s,
            Unit::SECOND,
        )
    }

    /// A finite number taken over the window, or the reason why there is none.
    fn over_window(&self, value: f64) -> Value {
        if self.window_s > 0.0 {
            finite(value)
        } else {
            Value::Absent("the measuring window has no length")
        }
    }

    /// An integral over the window divided by its length.
    fn mean(&self, mean: Mean) -> Figure {
        Figure {
            dust: 0.0,
            key: mean.key,
            name: mean.name,
            symbol: mean.symbol,
            group: mean.group,
            value: self.over_window(mean.integral.value / self.window_s),
            unit: mean.unit,
            formula: mean.formula,
            inputs: vec![mean.integral, self.length()],
            source: mean.source,
            note: mean.note,
        }
    }

    fn speeds(&self, figures: &mut Vec<Figure>) {
        let turned = Input::new(
            "Δθ",
            "mechanical angle gone through in the window",
            self.totals.angle_mech_rad,
            Unit::RADIAN,
        );
        let pole_pairs = Input::new(
            "p",
            "pole pairs",
            f64::from(self.end.pole_pairs),
            Unit::NUMBER,
        );
        let final_speed = Input::new(
            "ω",
            "mechanical speed at the end of the run",
            self.end.final_speed_rad_s,
            Unit::RADIAN_PER_SECOND,
        );
        let turns_per_s = turned.value / (TAU * self.window_s);
        figures.push(Figure {
            dust: 0.0,
            key: "mean_speed_rpm",
            name: "mean speed",
            symbol: "n",
            group: Group::Speed,
            value: self.over_window(60.0 * turns_per_s),
            unit: Unit::RPM,
            formula: "60 · Δθ / (2π · T)",
            inputs: vec![turned.clone(), self.length()],
            source: STEADY,
            note: "Positive is counter-clockwise on the screen.",
        });
        figures.push(Figure {
            dust: 0.0,
            key: "final_speed_rpm",
            name: "final speed",
            symbol: "n_end",
            group: Group::Speed,
            value: finite(self.end.final_speed_rad_s * 60.0 / TAU),
            unit: Unit::RPM,
            formula: "60 · ω / (2π)",
            inputs: vec![final_speed],
            source: Source::definition("angles and speed"),
            note: "At the last instant of the run.",
        });
        figures.push(Figure {
            dust: 0.0,
            key: "electrical_frequency_hz",
            name: "electrical frequency",
            symbol: "f",
            group: Group::Speed,
            value: self.over_window((f64::from(self.end.pole_pairs) * turns_per_s).abs()),
            unit: Unit::HERTZ,
            formula: "p · |Δθ| / (2π · T)",
            inputs: vec![pole_pairs, turned, self.length()],
            source: ANGLES,
            note: "Electrical turns per second, of the rotor, without sign; six steps make one turn.",
        });
    }

    fn torques(&self, figures: &mut Vec<Figure>) {
        let integral = Input::new(
            "∫m·dt",
            "integral of electromagnetic plus cogging torque",
            self.totals.torque_nm_s,
            Unit::NEWTON_METRE_SECOND,
        );
        let mean_nm = integral.value / self.window_s;
        // no values between two ends scatter by more than half their distance (T. Popoviciu, 1935): what
        // rounding leaves of a smooth torque is less than that
        let half_nm = 0.5 * (self.totals.torque_max_nm - self.totals.torque_min_nm);
        let variance = (self.totals.torque_squared_s / self.window_s - mean_nm * mean_nm)
            .min(half_nm * half_nm)
            .max(0.0);
        figures.push(self.mean(Mean {
            key: "torque_mean_nm",
            name: "mean torque",
            symbol: "M",
            group: Group::Torque,
            unit: Unit::NEWTON_METRE,
            formula: "∫m·dt / T",
            integral,
            source: STEADY,
            note: "Of the machine, before its friction.",
        }));
        figures.push(Figure {
            dust: 0.0,
            key: "torque_ripple_pp_nm",
            name: "torque ripple, peak to peak",
            symbol: "ΔM",
            group: Group::Torque,
            value: self.over_window(self.totals.torque_max_nm - self.totals.torque_min_nm),
            unit: Unit::NEWTON_METRE,
            formula: "m_max − m_min",
            inputs: vec![
                Input::new(
                    "m_max",
                    "highest torque in the window",
                    self.totals.torque_max_nm,
                    Unit::NEWTON_METRE,
                ),
                Input::new(
                    "m_min",
                    "lowest torque in the window",
                    self.totals.torque_min_nm,
                    Unit::NEWTON_METRE,
                ),
            ],
            source: RIPPLE,
            note: "Electromagnetic plus cogging torque, chopping ripple included.",
        });
        figures.push(Figure {
            dust: 0.0,
            key: "torque_ripple_rms_nm",
            name: "torque ripple, RMS",
            symbol: "M_ac",
            group: Group::Torque,
            value: self.over_window(libm::sqrt(variance)),
            unit: Unit::NEWTON_METRE,
            formula: "√( ∫m²·dt / T − M² )",
            inputs: vec![
                Input::new(
                    "∫m²·dt",
                    "integral of that torque squared",
                    self.totals.torque_squared_s,
                    Unit::NEWTON_METRE_SQUARED_SECOND,
                ),
                Input::new("M", "mean torque", mean_nm, Unit::NEWTON_METRE),
                self.length(),
            ],
            source: RIPPLE,
            note: "The standard deviation of the torque over time.",
        });
        figures.push(self.mean(Mean {
            key: "load_torque_mean_nm",
            name: "mean load torque",
            symbol: "M_load",
            group: Group::Torque,
            unit: Unit::NEWTON_METRE,
            formula: "∫m_load·dt / T",
            integral: Input::new(
                "∫m_load·dt",
                "integral of the torque on the load",
                self.totals.load_torque_nm_s,
                Unit::NEWTON_METRE_SECOND,
            ),
            source: STEADY,
            note: "On the load, or on what drives the shaft where its speed is held.",
        }));
    }

    fn currents(&self, figures: &mut Vec<Figure>) {
        figures.push(self.mean(Mean {
            key: "supply_current_mean_a",
            name: "mean supply current",
            symbol: "I",
            group: Group::Current,
            unit: Unit::AMPERE,
            formula: "∫i·dt / T",
            integral: Input::new(
                "∫i·dt",
                "charge from the positive rail into the bridge",
                self.totals.supply_charge_as,
                Unit::AMPERE_SECOND,
            ),
            source: CIRCUIT,
            note: "Of the bridge, behind the capacitor where there is one. Negative charges the supply.",
        }));
        figures.push(Figure {
            dust: 0.0,
            key: "supply_current_rms_a",
            name: "RMS supply current",
            symbol: "I_rms",
            group: Group::Current,
            value: self.over_window(libm::sqrt(
                self.totals.supply_current_squared_s / self.window_s,
            )),
            unit: Unit::AMPERE,
            formula: "√( ∫i²·dt / T )",
            inputs: vec![
                Input::new(
                    "∫i²·dt",
                    "integral of that current squared",
                    self.totals.supply_current_squared_s,
                    Unit::AMPERE_SQUARED_SECOND,
                ),
                self.length(),
            ],
            source: CIRCUIT,
            note: "What heats wires and capacitor between supply and bridge.",
        });
        let [u, v, w] = self.totals.phase_current_squared_s;
        let rms = |squared: f64| libm::sqrt(squared / self.window_s);
        let of = |symbol, name, value| Input::new(symbol, name, rms(value), Unit::AMPERE);
        figures.push(Figure {
            dust: 0.0,
            key: "phase_current_rms_a",
            name: "RMS phase current",
            symbol: "I_ph",
            group: Group::Current,
            value: self.over_window((rms(u) + rms(v) + rms(w)) / 3.0),
            unit: Unit::AMPERE,
            formula: "( I_u + I_v + I_w ) / 3",
            inputs: vec![
                of("I_u", "RMS current of winding U: √(∫i_u²·dt / T)", u),
                of("I_v", "of winding V", v),
                of("I_w", "of winding W", w),
            ],
            source: STEADY,
            note: "Of the phase windings, mean of the three; in delta a lead carries more.",
        });
        figures.push(Figure {
            dust: 0.0,
            key: "phase_current_peak_a",
            name: "peak phase current",
            symbol: "î",
            group: Group::Current,
            value: self.over_window(self.totals.phase_current_peak_a),
            unit: Unit::AMPERE,
            formula: "largest of |i_u| , |i_v| , |i_w|",
            inputs: Vec::new(),
            source: STEADY,
            note: "The largest magnitude in the window, chopping ripple included.",
        });
    }

    fn powers(&self, figures: &mut Vec<Figure>) {
        let energy = |symbol, name, value| Input::new(symbol, name, value, Unit::JOULE);
        let power = |key, name, symbol, formula, integral, note| {
            self.mean(Mean {
                key,
                name,
                symbol,
                group: Group::Power,
                unit: Unit::WATT,
                formula,
                integral,
                source: STEADY,
                note,
            })
        };
        let supply_w = self.totals.supply_energy_j / self.window_s;
        let shaft_w = self.totals.shaft_work_j / self.window_s;
        figures.push(power(
            "supply_power_w",
            "supply power",
            "P",
            "E / T",
            energy("E", "energy into the bridge", self.totals.supply_energy_j),
            "Mean power into the bridge; loss in the source's own resistance is not in it.",
        ));
        figures.push(power(
            "shaft_power_w",
            "shaft power",
            "P_shaft",
            "A / T",
            energy("A", "work on the load", self.totals.shaft_work_j),
            "Mean power on the load; negative where the load drives the machine.",
        ));
        figures.push(power(
            "copper_loss_w",
            "copper loss",
            "P_cu",
            "Q_cu / T",
            energy("Q_cu", "heat in the windings", self.totals.copper_j),
            "Winding resistance only, at the temperature of the setup.",
        ));
        figures.push(power(
            "bridge_loss_w",
            "bridge loss",
            "P_br",
            "Q_br / T",
            energy("Q_br", "heat in switches and diodes", self.totals.bridge_j),
            "Conduction only: switching takes no time and no energy here.",
        ));
        figures.push(power(
            "friction_loss_w",
            "friction loss",
            "P_fr",
            "Q_fr / T",
            energy(
                "Q_fr",
                "heat from viscous and dry friction",
                self.totals.friction_j,
            ),
            "Of the machine; iron loss is not simulated unless it is put into the friction.",
        ));
        let watts = |symbol, name, value| Input::new(symbol, name, value, Unit::WATT);
        let value = if supply_w > 0.0 && shaft_w > 0.0 {
            finite(shaft_w / supply_w)
        } else {
            Value::Absent(
                "it is a figure only where supply power and shaft power are both positive",
            )
        };
        figures.push(Figure {
            dust: 0.0,
            key: "efficiency",
            name: "efficiency",
            symbol: "η",
            group: Group::Power,
            value,
            unit: Unit::PERCENT,
            formula: "P_shaft / P",
            inputs: vec![
                watts("P_shaft", "shaft power", shaft_w),
                watts("P", "supply power", supply_w),
            ],
            source: STEADY,
            note: "Shaft over bridge input. In a window where speed still changes, some of the input goes into the turning masses.",
        });
    }
}

fn finite(value: f64) -> Value {
    if value.is_finite() {
        Value::Number(value)
    } else {
        Value::Absent("its inputs give no finite number")
    }
}

#[cfg(test)]
mod tests;
