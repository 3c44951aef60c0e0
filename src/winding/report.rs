//! What there is to say about a winding, for people and for programs.

use std::fmt::Write as _;

use serde::Serialize;

use super::{Winding, WindingFactor, format_layout, star_picture};

/// Orders a report gives: the odd ones that a field of alternating poles has, up to 19.
const ORDERS: [u32; 10] = [1, 3, 5, 7, 9, 11, 13, 15, 17, 19];

/// Below this the fundamental factor is called low: a machine then needs 30 % more turns or
/// current than an ideal one (common practice, no source).
const LOW_FACTOR: f64 = 0.77;

/// Something about a winding that its builder should know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WindFlag {
    /// No second stator section repeats the first, so the radial pull of a loaded machine is
    /// not balanced (the rule for gcd(slots, poles) = 1 is that of Z. Q. Zhu et al., IEEE Trans.
    /// Industry Applications 43(6), 2007, recalled from memory; here the laid-out sides decide).
    UnbalancedPull,
    /// Neighbouring stator sections see the poles with opposite sign.
    SectionsAlternate,
    /// The fundamental winding factor is below 0.77.
    LowWindingFactor,
    /// The EMFs follow U, W, V in positive rotation.
    PhaseOrderReversed,
    /// No one coil span pairs the sides of this layout.
    CoilsUnknown,
}

impl WindFlag {
    /// The flag as one sentence.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::UnbalancedPull => {
                "no stator section lies opposite that repeats the first: under load the rotor is \
                 pulled sideways"
            }
            Self::SectionsAlternate => {
                "neighbouring stator sections have opposite signs: parallel paths must be joined \
                 accordingly"
            }
            Self::LowWindingFactor => {
                "the winding factor is low: much of the copper does not help the fundamental"
            }
            Self::PhaseOrderReversed => {
                "the EMFs follow U, W, V when the rotor turns counter-clockwise: count the slots \
                 clockwise, or exchange V and W"
            }
            Self::CoilsUnknown => {
                "no one coil span pairs these sides, so pitch and distribution are not told apart"
            }
        }
    }
}

/// A winding as a report: the keys are those of the JSON form.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WindReport {
    /// Number of slots.
    pub slots: u32,
    /// Number of poles.
    pub poles: u32,
    /// Coil sides in a slot.
    pub layers: u32,
    /// Span of every coil in slots; null where no one span pairs the sides.
    pub coil_span: Option<u32>,
    /// Slots per pole and phase as a fraction: `2/7`.
    pub slots_per_pole_and_phase: String,
    /// All coil sides slot by slot, as a setup writes them.
    pub layout: String,
    /// The coils by the slot they start in (tooth by tooth for tooth coils), `..` where none
    /// does; empty where coils are not known.
    pub coils: String,
    /// Winding factor of the fundamental.
    pub winding_factor: f64,
    /// Winding factors of the odd orders 1 to 19.
    pub factors: Vec<WindingFactor>,
    /// gcd(slots, pole pairs): how often the star of slots repeats.
    pub periodicity: u32,
    /// gcd(slots, poles): stator sections that see the poles alike but for the sign.
    pub sections: u32,
    /// Equal sections of the laid-out sides, but for the sign.
    pub layout_sections: u32,
    /// lcm(slots, poles): cogging periods in a mechanical turn.
    pub cogging_per_turn: u64,
    /// Electrical degrees from slot 0 to the middle of the pole with outward flux at θe = 0.
    pub pole_at_zero_elec_deg: f64,
    /// What its builder should know.
    pub flags: Vec<WindFlag>,
    /// The star of slots as a text picture.
    #[serde(skip)]
    picture: String,
}

impl WindReport {
    /// Gathers the report of a winding.
    #[must_use]
    pub fn of(winding: &Winding) -> Self {
        Self {
            slots: winding.slots(),
            poles: winding.poles(),
            layers: winding.layers(),
            coil_span: winding.coil_span(),
            slots_per_pole_and_phase: winding.q_text(),
            layout: format_layout(winding.sides()),
            coils: winding.tooth_text(),
            winding_factor: winding.factor(1).total,
            factors: ORDERS.map(|order| winding.factor(order)).to_vec(),
            periodicity: winding.periodicity(),
            sections: winding.sections(),
            layout_sections: winding.layout_sections(),
            cogging_per_turn: winding.cogging_per_turn(),
            pole_at_zero_elec_deg: winding.pole_at_zero_elec_rad().to_degrees(),
            flags: flags(winding),
            picture: star_picture::draw(winding),
        }
    }

    /// The report as plain text for a terminal, lines of at most 80 characters (the list of slots
    /// in one direction of the star may be longer), ending in a line break.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        let layers = if self.layers == 1 {
            "one layer"
        } else {
            "two layers"
        };
        write!(out, "{} slots, {} poles, {layers}", self.slots, self.poles)?;
        match self.coil_span {
            Some(1) => writeln!(out, ", tooth coils")?,
            Some(span) => writeln!(out, ", coils over {span} slots")?,
            None => writeln!(out, ", a layout of its own")?,
        }
        writeln!(out)?;
        writeln!(
            out,
            "  slots per pole and phase  {}",
            self.slots_per_pole_and_phase
        )?;
        writeln!(
            out,
            "  winding factor            {:.4}",
            self.winding_factor
        )?;
        writeln!(out, "  star of slots repeats     {} ×", self.periodicity)?;
        writeln!(out, "  equal stator sections     {}", self.layout_sections)?;
        writeln!(out, "  cogging periods per turn  {}", self.cogging_per_turn)?;
        writeln!(
            out,
            "  outward flux at θe = 0    {:.1}° electrical from slot 1",
            self.pole_at_zero_elec_deg
        )?;
        if !self.coils.is_empty() {
            let by = if self.coil_span == Some(1) {
                "Tooth by tooth"
            } else {
                "Coil by coil"
            };
            writeln!(
                out,
                "\n{by}, counter-clockwise from the one that starts in slot 1"
            )?;
            wrap(
                out,
                &self.coils.split(' ').map(str::to_owned).collect::<Vec<_>>(),
            )?;
        }
        writeln!(out, "\nCoil side by coil side, slot 1 first")?;
        let sides: Vec<&str> = self.layout.split(' ').collect();
        let slots: Vec<String> = sides
            .chunks(self.layers as usize)
            .map(|sides| sides.join(" "))
            .collect();
        wrap(out, &slots)?;
        writeln!(out, "\nWinding factors")?;
        writeln!(out, "  order   pitch   distribution   total")?;
        let column = |value: Option<f64>| {
            value.map_or_else(|| "     –".to_owned(), |value| format!("{value:6.4}"))
        };
        for factor in &self.factors {
            writeln!(
                out,
                "  {:>5}  {}         {}  {:6.4}",
                factor.order,
                column(factor.pitch),
                column(factor.distribution),
                factor.total
            )?;
        }
        writeln!(
            out,
            "\nStar of slots, electrical angles, counter-clockwise from the right"
        )?;
        out.push_str(&self.picture);
        if !self.flags.is_empty() {
            writeln!(out, "\nTo know")?;
            for flag in &self.flags {
                write_flag(out, flag.text())?;
            }
        }
        Ok(())
    }
}

/// What its builder should know about a winding.
fn flags(winding: &Winding) -> Vec<WindFlag> {
    [
        (winding.layout_sections() == 1, WindFlag::UnbalancedPull),
        (winding.sections_alternate(), WindFlag::SectionsAlternate),
        (
            winding.factor(1).total < LOW_FACTOR,
            WindFlag::LowWindingFactor,
        ),
        (winding.phase_order_reversed(), WindFlag::PhaseOrderReversed),
        (winding.coils().is_empty(), WindFlag::CoilsUnknown),
    ]
    .into_iter()
    .filter_map(|(raised, flag)| raised.then_some(flag))
    .collect()
}

/// Writes a sentence as a list item, in lines of at most 80 characters.
fn write_flag(out: &mut String, sentence: &str) -> std::fmt::Result {
    let mut line = String::from("  -");
    for word in sentence.split(' ') {
        if line.len() + 1 + word.len() > 80 {
            writeln!(out, "{line}")?;
            line = String::from("   ");
        }
        line.push(' ');
        line.push_str(word);
    }
    writeln!(out, "{line}")
}

/// Writes entries in lines of at most 80 characters, indented by two and two blanks apart.
fn wrap(out: &mut String, entries: &[String]) -> std::fmt::Result {
    let width = entries.iter().map(String::len).max().unwrap_or(0) + 2;
    for line in entries.chunks((78 / width).max(1)) {
        writeln!(out, "  {}", line.join("  "))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_says_what_the_numbers_say() {
        let text = WindReport::of(&Winding::lay_out(12, 14, 2, 1).unwrap()).text();
        for part in [
            "12 slots, 14 poles, two layers, tooth coils",
            "slots per pole and phase  2/7",
            "winding factor            0.9330",
            "cogging periods per turn  84",
            "  +U  +W  -W  -V  +V  +U  -U  -W  +W  +V  -V  -U",
            "      1  0.9659         0.9659  0.9330",
        ] {
            assert!(text.contains(part), "{part}\nis missing in\n{text}");
        }
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
    }

    #[test]
    fn flags_are_raised_where_they_hold() {
        let of = |slots, poles, layers| {
            WindReport::of(&Winding::lay_out(slots, poles, layers, 1).unwrap()).flags
        };
        assert_eq!(of(9, 8, 2), [WindFlag::UnbalancedPull]);
        assert_eq!(of(12, 14, 2), [WindFlag::SectionsAlternate]);
        assert_eq!(
            of(6, 2, 2),
            [WindFlag::SectionsAlternate, WindFlag::LowWindingFactor]
        );
        assert_eq!(of(12, 8, 2), []);
        // Three teeth of six: the rows of a two-layer winding would call this balanced.
        assert_eq!(of(6, 4, 1), [WindFlag::UnbalancedPull]);
    }

    #[test]
    fn the_json_keys_are_the_documented_ones() {
        let report = WindReport::of(&Winding::lay_out(9, 8, 2, 1).unwrap());
        let json = serde_json::to_value(&report).unwrap();
        assert_eq!(json["flags"][0], "unbalanced-pull");
        assert_eq!(json["factors"][2]["order"], 5);
        assert_eq!(json["layout"].as_str().unwrap().split(' ').count(), 18);
        assert!(json.get("picture").is_none());
    }
}
