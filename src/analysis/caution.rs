//! What a real bench with these figures could do to people.
//!
//! A simulation harms nobody, but its figures are read beside real motors. Each caution names
//! the figure that calls for it and defers to local rules; it promises no safety.

/// DC voltage above which touching live parts is counted as dangerous, in V: the usual limit
/// of extra-low voltage (IEC 61140, dry places, from memory; local rules may be lower).
pub const TOUCH_LIMIT_DC_V: f64 = 60.0;

/// Current above which thin leads, plugs and cells heat within seconds, in A. Common practice,
/// no source.
pub const HOT_LEADS_A: f64 = 20.0;

/// Loss in windings or switches above which parts soon are too hot to touch, in W, without
/// cooling. Common practice for palm-sized motors, no source.
pub const HOT_PARTS_W: f64 = 10.0;

/// What the cautions are decided by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hazards {
    /// Highest voltage of the supply in V.
    pub supply_voltage_v: f64,
    /// Highest line-to-line back-EMF of the run in V.
    pub line_back_emf_v: f64,
    /// Largest current of a phase in A.
    pub current_peak_a: f64,
    /// Heat in windings and bridge in W.
    pub heat_w: f64,
    /// Highest speed of the run, mechanical rpm, without sign.
    pub speed_rpm: f64,
}

/// The cautions, as sentences, most dangerous first; the last one defers to local rules. Empty
/// where nothing calls for one.
#[must_use]
pub fn cautions(hazards: &Hazards) -> Vec<String> {
    let mut found = Vec::new();
    let volts = hazards.supply_voltage_v.max(hazards.line_back_emf_v);
    if volts >= TOUCH_LIMIT_DC_V {
        let whose = if hazards.line_back_emf_v > hazards.supply_voltage_v {
            "between the leads of the turning motor, even with the supply off"
        } else {
            "of the supply"
        };
        found.push(format!(
            "{volts:.0} V {whose}: dangerous to touch (extra-low voltage ends at \
             {TOUCH_LIMIT_DC_V:.0} V dc by common practice, IEC 61140)."
        ));
    }
    if hazards.current_peak_a >= HOT_LEADS_A {
        found.push(format!(
            "{:.0} A in a phase at the worst moment of the run: thin leads and plugs burn, and a \
             lithium pack that is shorted gives far more and can catch fire; fuse it.",
            hazards.current_peak_a
        ));
    }
    if hazards.heat_w >= HOT_PARTS_W {
        found.push(format!(
            "{:.0} W of heat in windings and switches: parts get too hot to touch.",
            hazards.heat_w
        ));
    }
    if hazards.speed_rpm >= 1.0 {
        found.push(format!(
            "{:.0} rpm at the fastest: hold the motor in a fixture, keep fingers, hair and sleeves away, never \
             run a loose propeller.",
            hazards.speed_rpm
        ));
    }
    if !found.is_empty() {
        found.push("Local rules and the data of your own parts go before these lines.".to_owned());
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const STILL: Hazards = Hazards {
        supply_voltage_v: 11.1,
        line_back_emf_v: 0.0,
        current_peak_a: 1.0,
        heat_w: 0.1,
        speed_rpm: 0.0,
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
}
