//! What a real bench with these figures could do to people.
//!
//! A simulation harms nobody, but its figures are read beside real motors. Each caution names
//! the figure that calls for it and defers to local rules; it promises no safety. Terminal, JSON,
//! reports and the window show the same sentences.

use super::{Unit, shown};

/// DC voltage above which touching live parts is counted as dangerous, in V: the usual limit
/// of extra-low voltage (IEC 61140, dry places, from memory; local rules may be lower).
pub const TOUCH_LIMIT_DC_V: f64 = 60.0;

/// Current above which thin leads, plugs and cells heat within seconds, in A. Common practice,
/// no source.
pub const HOT_LEADS_A: f64 = 20.0;

/// Loss in windings or switches above which parts soon are too hot to touch, in W, without
/// cooling. Common practice for palm-sized motors, no source.
pub const HOT_PARTS_W: f64 = 10.0;

/// Mean current into the supply above which a pack counts as being charged, in A: more than what a
/// meter's or a window's rounding leaves. Common practice, no source.
pub const CHARGING_A: f64 = 0.05;

/// Mean speed below which a driven motor counts as standing still, in mechanical rpm: what jerks to
/// and fro on the spot is not cooled either. Common practice, no source.
pub const STANDING_RPM: f64 = 1.0;

/// Where the figures of [`Hazards`] come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// From a run, whose worst moment counts.
    Run,
    /// From a prediction of steady running; no run took place.
    Prediction,
    /// From what somebody read off a motor whose shaft was held or turned.
    Readings,
}

/// What the cautions are decided by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hazards {
    /// Where the figures come from, which the words name.
    pub told: Told,
    /// Highest voltage of the supply in V.
    pub supply_voltage_v: f64,
    /// Highest line-to-line back-EMF in V.
    pub line_back_emf_v: f64,
    /// Largest current of a phase in A.
    pub current_peak_a: f64,
    /// Mean current that flows back into the supply in A; 0 or below where the supply gives.
    pub returned_a: f64,
    /// Mean power that flows back into the supply in W; 0 or below where the supply gives.
    pub returned_w: f64,
    /// Heat in windings and bridge in W.
    pub heat_w: f64,
    /// Whether that heat arises in a motor that stands still.
    pub stands: bool,
    /// Highest speed, mechanical rpm, without sign.
    pub speed_rpm: f64,
}

impl Hazards {
    /// Where nothing is dangerous.
    pub const NONE: Self = Self {
        told: Told::Run,
        supply_voltage_v: 0.0,
        line_back_emf_v: 0.0,
        current_peak_a: 0.0,
        returned_a: 0.0,
        returned_w: 0.0,
        heat_w: 0.0,
        stands: false,
        speed_rpm: 0.0,
    };
}

/// The cautions, as sentences, most dangerous first; the last one defers to local rules. Empty
/// where nothing calls for one.
#[must_use]
pub fn cautions(hazards: &Hazards) -> Vec<String> {
    let mut found: Vec<String> = [
        voltage(hazards),
        returned(hazards),
        current(hazards),
        heat(hazards),
        speed(hazards),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !found.is_empty() {
        found.push("Local rules and the data of your own parts go before these lines.".to_owned());
    }
    found
}

fn voltage(hazards: &Hazards) -> Option<String> {
    let volts = hazards.supply_voltage_v.max(hazards.line_back_emf_v);
    let whose = if hazards.line_back_emf_v > hazards.supply_voltage_v {
        "between the leads of the turning motor, even with the supply off"
    } else {
        "of the supply"
    };
    (volts >= TOUCH_LIMIT_DC_V).then(|| {
        format!(
            "{volts:.0} V {whose}: dangerous to touch (extra-low voltage ends at \
             {TOUCH_LIMIT_DC_V:.0} V dc by common practice, IEC 61140)."
        )
    })
}

fn returned(hazards: &Hazards) -> Option<String> {
    (hazards.returned_a >= CHARGING_A).then(|| {
        format!(
            "{} ({}) flow back into the supply: that charges a pack without any control, and a lithium pack can catch \
             fire; the voltage of a bench supply rises until something gives way.",
            shown(hazards.returned_a, Unit::AMPERE, 2),
            shown(hazards.returned_w, Unit::WATT, 2)
        )
    })
}

fn current(hazards: &Hazards) -> Option<String> {
    let where_and_when = match hazards.told {
        Told::Run => "in a phase at the worst moment of the run",
        Told::Prediction => "in a phase at its peak, while it turns steadily",
        Told::Readings => "in the leads while the shaft was held",
    };
    (hazards.current_peak_a >= HOT_LEADS_A).then(|| {
        format!(
            "{:.0} A {where_and_when}: thin leads and plugs burn, and a lithium pack that is shorted gives far more \
             and can catch fire; fuse it.",
            hazards.current_peak_a
        )
    })
}

fn heat(hazards: &Hazards) -> Option<String> {
    let after = if hazards.stands {
        " of a motor that stands still: two windings and their switches take nearly all of it, no air moves past \
         them, and they burn. Switch off first, then look for what holds it."
    } else {
        ": parts get too hot to touch."
    };
    (hazards.heat_w >= HOT_PARTS_W).then(|| {
        format!(
            "{:.0} W of heat in windings and switches{after}",
            hazards.heat_w
        )
    })
}

fn speed(hazards: &Hazards) -> Option<String> {
    let when = match hazards.told {
        Told::Prediction => "without load",
        Told::Run | Told::Readings => "at the fastest",
    };
    (hazards.speed_rpm >= 1.0).then(|| {
        format!(
            "{:.0} rpm {when}: hold the motor in a fixture, keep fingers, hair and sleeves away, never run a loose \
             propeller.",
            hazards.speed_rpm
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const STILL: Hazards = Hazards {
        supply_voltage_v: 11.1,
        current_peak_a: 1.0,
        heat_w: 0.1,
        ..Hazards::NONE
    };

    #[test]
    fn a_still_and_weak_bench_needs_none() {
        assert_eq!(cautions(&STILL), Vec::<String>::new());
    }

    #[test]
    fn the_voltage_of_a_turning_motor_counts_too() {
        let found = cautions(&Hazards {
            line_back_emf_v: 75.0,
            ..STILL
        });
        assert!(found[0].starts_with("75 V between the leads"), "{found:?}");
        let found = cautions(&Hazards {
            supply_voltage_v: 60.0,
            ..STILL
        });
        assert!(found[0].starts_with("60 V of the supply"), "{found:?}");
        assert!(found[1].starts_with("Local rules"));
    }

    /// A prediction was once said to have a worst moment of its run.
    #[test]
    fn a_current_is_told_by_where_it_was_found() {
        let of = |told| {
            let hazards = Hazards {
                told,
                current_peak_a: 428.0,
                ..STILL
            };
            cautions(&hazards).swap_remove(0)
        };
        assert!(of(Told::Run).starts_with("428 A in a phase at the worst moment of the run"));
        for told in [Told::Prediction, Told::Readings] {
            assert!(of(told).starts_with("428 A in "));
            assert!(!of(told).contains("run:"), "{}", of(told));
        }
    }

    #[test]
    fn what_flows_back_charges_a_pack() {
        let back = |returned_a, returned_w| {
            cautions(&Hazards {
                returned_a,
                returned_w,
                ..STILL
            })
        };
        assert!(
            back(5.508, 61.75)[0].starts_with("5.5 A (62 W) flow back into the supply"),
            "{:?}",
            back(5.508, 61.75)
        );
        assert_eq!(back(-5.0, -55.0), Vec::<String>::new());
        assert_eq!(back(1e-12, 1e-11), Vec::<String>::new());
    }

    #[test]
    fn a_motor_that_stands_burns() {
        let heat = |stands| {
            let hazards = Hazards {
                heat_w: 380.0,
                stands,
                ..STILL
            };
            cautions(&hazards).swap_remove(0)
        };
        assert!(heat(true).contains("of a motor that stands still"));
        assert_eq!(
            heat(false),
            "380 W of heat in windings and switches: parts get too hot to touch."
        );
    }
}
