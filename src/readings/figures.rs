//! What the motor is, as figures that explain themselves, each with its range.

use std::f64::consts::TAU;

use super::estimate::Estimate;
use super::judge::Verdict;
use super::model::{Main, Model};
use super::next::positive;
use super::reading::{Of, winding_over_line_peak};
use super::sheet::BenchSheet;
use crate::analysis::{FigureNames, Group, Input, Source, Unit, Value};
use crate::setup::Connection;

const LEAST_SQUARES: Source = Source {
    author: "JCGM",
    title: "100:2008, Guide to the expression of uncertainty in measurement",
    place: "5.2 correlated inputs, H.3 least squares; all readings fitted at once (from memory)",
};
const SYNCHRONOUS: Source = Source::definition("angles and speed");
const POWER_BALANCE: Source = Source {
    author: "",
    title: "power balance",
    place: "line EMF times current of two phases is torque times speed",
};
const COPPER: Source = Source {
    author: "IEC",
    title: "60034-1",
    place: "R₂ = R₁ (235 + T₂)/(235 + T₁) (read at second hand)",
};
const RUN_DOWN: Source = Source {
    author: "",
    title: "Newton's law of a rotor that its own losses slow",
    place: "t = J ∫ dω / (T₀ + b ω)",
};
const COUNTED: Source = Source {
    author: "",
    title: "counted, or frequency over speed",
    place: "p = 60 f / n, a whole number",
};

/// Picks the figures out of a fit.
struct Picker<'a> {
    model: Model<'a>,
    verdict: &'a Verdict,
    list: Vec<Estimate>,
}

/// The figures of a verdict. Keys end in their unit.
#[must_use]
pub fn figures(sheet: &BenchSheet, verdict: &Verdict) -> Vec<Estimate> {
    let mut picker = Picker {
        model: Model::new(sheet, &verdict.best().variant),
        verdict,
        list: Vec::new(),
    };
    picker.pole_pairs();
    picker.kv();
    picker.circuit();
    picker.losses();
    picker.inertia();
    picker.list
}

impl Picker<'_> {
    fn theta(&self, which: Main) -> f64 {
        self.verdict.best().fit.theta[self.model.main(which)]
    }

    fn known(&self, which: Main) -> Option<(f64, f64)> {
        positive(&self.verdict.best().fit, self.model.main(which))
    }

    fn standard(&self, gradient: &[(Main, f64)]) -> f64 {
        let gradient: Vec<(usize, f64)> = gradient
            .iter()
            .map(|&(which, slope)| (self.model.main(which), slope))
            .collect();
        self.verdict.best().fit.standard(&gradient)
    }

    fn count(&self, wanted: impl Fn(&Of) -> bool) -> f64 {
        let readings = self.model.sheet.readings.iter();
        #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
        let n = readings.filter(|reading| wanted(&reading.of)).count() as f64;
        n
    }

    #[expect(clippy::too_many_arguments, reason = "a figure has as many parts")]
    fn push(
        &mut self,
        names: FigureNames,
        group: Group,
        unit: Unit,
        value: Result<(f64, f64), &'static str>,
        formula: &'static str,
        inputs: Vec<Input>,
        source: Source,
        note: &'static str,
    ) {
        let estimate = Estimate::new(names, (group, unit), value, formula, inputs, source);
        self.list.push(estimate.noted(note));
    }

    fn pole_pairs(&mut self) {
        let sheet = self.model.sheet;
        let told = sheet.motor.magnets.is_some() || !self.verdict.pole_pairs.is_empty();
        let pole_pairs = self.verdict.best().variant.pole_pairs;
        self.push(
            ("pole_pairs", "pole pairs", "p"),
            Group::Speed,
            Unit::NUMBER,
            Err("neither counted nor a frequency with its speed"),
            "60 f / n, or half the magnets",
            Vec::new(),
            COUNTED,
            "",
        );
        if told && let Some(last) = self.list.last_mut() {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a whole number from 1 on"
            )]
            let count = pole_pairs as u64;
            last.figure.value = Value::Count(count);
        }
        let found: Vec<(f64, f64)> = self
            .verdict
            .pole_pairs
            .iter()
            .map(|check| (check.value, check.standard))
            .collect();
        if found.is_empty() {
            return;
        }
        let weight: f64 = found.iter().map(|(_, u)| 1.0 / (u * u)).sum();
        let mean = found.iter().map(|(v, u)| v / (u * u)).sum::<f64>() / weight;
        self.push(
            (
                "pole_pairs_apparent",
                "pole pairs that frequency and speed say",
                "p_a",
            ),
            Group::Speed,
            Unit::NUMBER,
            Ok((mean, 1.0 / weight.sqrt())),
            "weighted mean of 60 f / n over the rows that have both",
            Vec::new(),
            SYNCHRONOUS,
            "As read, before any correction. Unless it is whole within its range, a reading is wrong: a synchronous \
             machine does not slip.",
        );
    }

    fn kv(&mut self) {
        let rows = vec![
            Input::new(
                "N_e",
                "readings of the EMF",
                self.count(|of| matches!(of, Of::Emf { .. })),
                Unit::NUMBER,
            ),
            Input::new(
                "N_u",
                "voltages without load",
                self.count(|of| matches!(of, Of::NoLoadVoltage { .. })),
                Unit::NUMBER,
            ),
            Input::new(
                "N_m",
                "torques at the stall",
                self.count(|of| matches!(of, Of::StallTorque { .. })),
                Unit::NUMBER,
            ),
        ];
        let k = self.known(Main::Emf);
        let missing = "no EMF at a known speed, no speed without load, no torque at the stall";
        let of_leads = k
            .map(|(k, u)| (60.0 / TAU / k, 60.0 / TAU / k * u))
            .ok_or(missing);
        let delta = self.model.connection() == Connection::Delta;
        if delta {
            let of_winding = self.of_a_winding();
            let inputs = of_leads.ok().zip(of_winding);
            self.push(
                ("kv_rpm_per_v", "Kv", "Kv"),
                Group::Speed,
                Unit::RPM_PER_VOLT,
                of_winding.ok_or(missing),
                "Kv_l / c",
                inputs.map_or_else(Vec::new, |((of_leads, _), (of_winding, _))| {
                    vec![
                        open_leads(of_leads),
                        Input::new(
                            "c",
                            "a winding's peak over that of the leads",
                            of_leads / of_winding,
                            Unit::NUMBER,
                        ),
                    ]
                }),
                LEAST_SQUARES,
                "Mechanical rpm per volt of peak EMF of one winding, which is what a setup counts in delta. c is 1 for a \
                 sine and 3/4 for a trapezoid: the third harmonic goes round the loop and does not show between the \
                 leads, so that Kv is known no better than the shape is.",
            );
        }
        let (names, note): (FigureNames, &'static str) = if delta {
            (
                (OPEN_LEADS, "speed per volt of open leads", "Kv_l"),
                "Mechanical rpm per volt of peak EMF between two leads of the delta, which is what an instrument \
                 shows: e less the mean of the three windings' EMFs.",
            )
        } else {
            (
                ("kv_rpm_per_v", "Kv", "Kv"),
                "Mechanical rpm per volt of peak line EMF.",
            )
        };
        self.push(
            names,
            Group::Speed,
            Unit::RPM_PER_VOLT,
            of_leads,
            if delta {
                "n / Û, the fit of all readings that carry it: Û = n / Kv_l spun, U = d · n / Kv_l + R · I without load, M = I / Kv_l at the stall"
            } else {
                "n / Û, the fit of all readings that carry it: Û = n / Kv spun, U = d · n / Kv + R · I without load, M = I / Kv at the stall"
            },
            rows,
            LEAST_SQUARES,
            note,
        );
        let inputs = of_leads.map_or_else(
            |_| Vec::new(),
            |(kv, _)| {
                vec![if delta {
                    open_leads(kv)
                } else {
                    Input::new(
                        "Kv",
                        "speed per volt of peak line EMF",
                        kv,
                        Unit::RPM_PER_VOLT,
                    )
                }]
            },
        );
        self.push(
            ("torque_constant_nm_per_a", "torque constant", "Kt"),
            Group::Torque,
            Unit::NEWTON_METRE_PER_AMPERE,
            k.map(|(k, u)| (k, k * u)).ok_or(missing),
            if delta {
                "60 / ( 2π · Kv_l )"
            } else {
                "60 / ( 2π · Kv )"
            },
            inputs,
            POWER_BALANCE,
            if delta {
                "Torque per ampere through two leads at the best angle; over the step of a six-step drive the mean is \
                 7/8 of it for a trapezoid and 3/π of it for a sine."
            } else {
                "Torque per ampere through two leads at the best angle; over the step of a six-step drive the mean is \
                 the same for a trapezoid and 3/π of it for a sine."
            },
        );
    }

    /// Speed per volt of a winding's own peak, with its standard uncertainty: that of the leads, and
    /// of what the shape of the EMF leaves open. A fit whose shape lies beyond sine or trapezoid, which
    /// scatter does to it, is taken at the nearer of the two.
    fn of_a_winding(&self) -> Option<(f64, f64)> {
        let (k, _) = self.known(Main::Emf)?;
        let (trapezoid, sine) = winding_over_line_peak(self.model.connection());
        let slope = 0.5 * (trapezoid - sine);
        let part = 0.5 * (trapezoid + sine) + slope * self.theta(Main::Shape).clamp(-1.0, 1.0);
        let kv = 60.0 / TAU / (k * part);
        let relative = self.standard(&[(Main::Emf, 1.0), (Main::Shape, slope / part)]);
        Some((kv, kv * relative))
    }

    fn circuit(&mut self) {
        let sheet = self.model.sheet;
        let ohm = self.known(Main::Resistance);
        let warm = sheet.readings.iter().find_map(|reading| match reading.of {
            Of::Temperature { .. } => Some(reading.value),
            _ => None,
        });
        let mut inputs = vec![Input::new(
            "N_r",
            "readings of resistance",
            self.count(|of| matches!(of, Of::Resistance { .. } | Of::StallVoltage { .. })),
            Unit::NUMBER,
        )];
        if let Some(warm) = warm {
            inputs.push(Input::new(
                "T",
                "temperature of the winding, first row",
                warm,
                Unit::DEGREE_CELSIUS,
            ));
        }
        self.push(
            ("line_resistance_20c_ohm", "line resistance at 20 °C", "R₂₀"),
            Group::Power,
            Unit::OHM,
            ohm.map(|(ohm, u)| (ohm, ohm * u))
                .ok_or("no resistance was read"),
            "weighted mean of R · (235 + 20) / (235 + T) over all readings",
            inputs,
            COPPER,
            "Between two terminals; the mean of the three pairs, as sound windings have it.",
        );
        let henry = self.known(Main::Inductance);
        self.push(
            ("line_inductance_h", "line inductance", "L"),
            Group::Power,
            Unit::HENRY,
            henry
                .map(|(henry, u)| (henry, henry * u))
                .ok_or("no inductance was read"),
            "weighted mean of the readings",
            Vec::new(),
            LEAST_SQUARES,
            "Between two terminals, mean over the rotor's positions.",
        );
    }

    fn losses(&mut self) {
        let rows = self.model.sheet.rows.no_load;
        let (constant, per_volt) = (self.theta(Main::Constant), self.theta(Main::PerVolt));
        let k = self.known(Main::Emf);
        let missing = "no current without load was read";
        let has = rows > 0;
        self.push(
            (
                "no_load_current_constant_a",
                "no-load current, constant part",
                "I_c",
            ),
            Group::Current,
            Unit::AMPERE,
            if has {
                Ok((constant, self.standard(&[(Main::Constant, 1.0)])))
            } else {
                Err(missing)
            },
            "I_c of the straight line I₀ = I_c + G · E through the currents without load",
            Vec::new(),
            LEAST_SQUARES,
            if rows == 1 {
                "Read at one voltage only: taken as the same at every speed."
            } else {
                "E is the peak line EMF at that speed, so that G · E grows with speed."
            },
        );
        let k_value = k.map(|(k, _)| k);
        let needs = if has { "Kv is not known" } else { missing };
        let input_kt =
            |k: f64| Input::new("Kt", "torque constant", k, Unit::NEWTON_METRE_PER_AMPERE);
        let dry = k_value.filter(|_| has).map(|k| {
            let torque = k * constant;
            (
                torque,
                self.standard(&[(Main::Emf, torque), (Main::Constant, k)]),
            )
        });
        self.push(
            ("dry_friction_nm", "losses, constant torque", "M₀"),
            Group::Torque,
            Unit::NEWTON_METRE,
            dry.ok_or(needs),
            "Kt · I_c",
            k_value.map_or_else(Vec::new, |k| {
                vec![
                    input_kt(k),
                    Input::new(
                        "I_c",
                        "no-load current, constant part",
                        constant,
                        Unit::AMPERE,
                    ),
                ]
            }),
            POWER_BALANCE,
            "Bearings and hysteresis of the iron.",
        );
        let viscous = k_value.filter(|_| rows > 1).map(|k| {
            let slope = k * k * per_volt;
            (
                slope,
                self.standard(&[(Main::Emf, 2.0 * slope), (Main::PerVolt, k * k)]),
            )
        });
        self.push(
            ("viscous_friction_nm_s", "losses, torque per speed", "b"),
            Group::Torque,
            Unit::NEWTON_METRE_SECOND,
            viscous.ok_or(if rows == 1 {
                "needs the current without load at a second voltage"
            } else {
                needs
            }),
            "Kt² · G",
            k_value.map_or_else(Vec::new, |k| {
                vec![
                    input_kt(k),
                    Input::new("G", "no-load current per volt of EMF", per_volt, SIEMENS),
                ]
            }),
            POWER_BALANCE,
            "Eddy currents of the iron, air. Per rad/s.",
        );
    }

    fn inertia(&mut self) {
        let sheet = self.model.sheet;
        let inertia = self
            .known(Main::Inertia)
            .filter(|_| sheet.rows.run_down > 0);
        let added = sheet.readings.iter().any(
            |reading| matches!(reading.of, Of::RunDown { added_kg_m2, .. } if added_kg_m2 > 0.0),
        );
        let possible = sheet.rows.no_load > 0 && self.known(Main::Emf).is_some() || added;
        self.push(
            ("inertia_kg_m2", "inertia of the rotor", "J"),
            Group::Torque,
            GRAM_CENTIMETRE_SQUARED,
            match inertia {
                Some((inertia, u)) if possible => Ok((inertia, inertia * u)),
                _ if sheet.rows.run_down > 0 => {
                    Err("the run-down needs the loss torque: current without load, and Kv")
                }
                _ => Err("no run-down was taken"),
            },
            "t / ∫ dω / ( M₀ + b · ω ) from the run-down, the fit of all of them",
            Vec::new(),
            RUN_DOWN,
            "Leads open: the iron slows as it does without load.",
        );
    }
}

/// Key of the speed per volt between the open leads, a figure of a delta alone: in star it is Kv.
pub(super) const OPEN_LEADS: &str = "open_leads_kv_rpm_per_v";

fn open_leads(kv_rpm_per_v: f64) -> Input {
    Input::new(
        "Kv_l",
        "speed per volt of peak EMF between open leads",
        kv_rpm_per_v,
        Unit::RPM_PER_VOLT,
    )
}

/// Shown in g cm², held in kg m².
const GRAM_CENTIMETRE_SQUARED: Unit = Unit {
    symbol: "g cm²",
    per_si: 1e7,
    prefixed: false,
};

/// Ampere per volt.
const SIEMENS: Unit = Unit {
    symbol: "A/V",
    per_si: 1.0,
    prefixed: true,
};

/// One claim of the label beside what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelCheck {
    /// What is claimed.
    pub name: &'static str,
    /// The claim, as shown.
    pub claimed: String,
    /// What was found, as shown.
    pub found: String,
    /// Found over claimed, less one.
    pub differs: f64,
    /// Whether it lies within the usual spread of labels and the range of what was found.
    pub holds: bool,
    /// The usual spread, as a part.
    pub spread: f64,
}

/// The label beside the motor. Spreads: common practice, no source
/// (`tests/reference/machine_relations.toml`).
#[must_use]
pub fn label_checks(sheet: &BenchSheet, estimates: &[Estimate]) -> Vec<LabelCheck> {
    let mut list = Vec::new();
    let found = |key: &str| {
        let estimate = estimates.iter().find(|e| e.figure.key == key)?;
        Some((estimate.figure.number()?, estimate.expanded?))
    };
    let mut check = |name, unit: Unit, claimed: Option<f64>, found: Option<(f64, f64)>, spread| {
        let (Some(claimed), Some((value, expanded))) = (claimed, found) else {
            return;
        };
        let say = |value: f64| crate::analysis::shown(value, unit, 3).to_string();
        list.push(LabelCheck {
            name,
            claimed: say(claimed),
            found: say(value),
            differs: value / claimed - 1.0,
            holds: (value - claimed).abs() <= libm::hypot(spread * claimed, expanded),
            spread,
        });
    };
    let label = &sheet.label;
    // a label speaks of what shows between the leads
    let kv = || found(OPEN_LEADS).or_else(|| found("kv_rpm_per_v"));
    check(
        "Kv",
        Unit::RPM_PER_VOLT,
        label.kv_rad_per_v_s.map(|kv| kv * 60.0 / TAU),
        kv(),
        0.1,
    );
    check(
        "line resistance",
        Unit::OHM,
        label.line_resistance_ohm,
        found("line_resistance_20c_ohm"),
        0.1,
    );
    let no_load = || {
        let (constant, u) = found("no_load_current_constant_a")?;
        let (kv, _) = kv()?;
        let slope = found("viscous_friction_nm_s").map_or(0.0, |(b, _)| b);
        let k = 60.0 / TAU / kv;
        // near enough for a claim: the EMF is the voltage
        Some((constant + slope / (k * k) * label.no_load_voltage_v?, u))
    };
    check(
        "no-load current",
        Unit::AMPERE,
        label.no_load_current_a,
        no_load(),
        0.5,
    );
    let counted = estimates
        .iter()
        .find_map(|estimate| match estimate.figure.value {
            Value::Count(count) if estimate.figure.key == "pole_pairs" => Some(count),
            _ => None,
        });
    if let (Some(claimed), Some(pole_pairs)) = (label.poles, counted) {
        let poles = 2 * pole_pairs;
        #[expect(clippy::cast_precision_loss, reason = "some hundreds at most")]
        let differs = poles as f64 / f64::from(claimed) - 1.0;
        list.push(LabelCheck {
            name: "poles",
            claimed: claimed.to_string(),
            found: poles.to_string(),
            differs,
            holds: u64::from(claimed) == poles,
            spread: 0.0,
        });
    }
    list
}
