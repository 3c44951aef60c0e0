//! What came of the readings, in sentences: the same on the terminal, in the window and on paper.

use super::estimate::Estimate;
use super::figures::OPEN_LEADS;
use super::judge::{Check, Ranked, Verdict};
use super::reading::Of;
use super::sheet::BenchSheet;
use crate::analysis::caution::{Hazards, cautions};
use crate::analysis::{Unit, shown};

/// Causes below this probability are not named, and at most so many are.
const LEAST_NAMED: f64 = 0.02;
const MOST_NAMED: usize = 5;
/// A reading that lies so many standard uncertainties from the others is marked.
const MARKED: f64 = 3.0;
/// Probability of a chi-square as large or larger, below which something is left unexplained.
const SCATTERED: f64 = 0.01;

/// Whether readings agree, in a sentence or two.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opinion {
    /// Its beginning, which says it all.
    pub lead: String,
    /// The rest; begins with a blank or a stop.
    pub rest: String,
    /// Whether something is wrong.
    pub is_caution: bool,
}

impl std::fmt::Display for Opinion {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.lead)?;
        f.write_str(&self.rest)
    }
}

impl Verdict {
    /// Whether the readings agree.
    #[must_use]
    pub fn opinion(&self, sheet: &BenchSheet) -> Opinion {
        let n = sheet.readings.iter().filter(|r| r.is_checked()).count();
        let say = |is_caution: bool, lead: &str, rest: String| Opinion {
            lead: lead.to_owned(),
            rest,
            is_caution,
        };
        if self.freedom == 0 {
            let rest = " of one motor, and none to spare: nothing checks them against each other.";
            return say(false, &plural(n, "reading"), rest.to_owned());
        }
        let chi = format!(
            "chi-square {} with {} to spare, as large in {} of 100 sound sheets",
            shown(self.chi_square, Unit::NUMBER, 3).number,
            plural(self.freedom, "reading"),
            percent(self.exceeded)
        );
        if self.agree && self.exceeded >= SCATTERED {
            return say(false, "The readings agree", format!(" ({chi})."));
        }
        if self.agree {
            let rest = format!(
                " ({chi}), and no slip explains it, neither one nor two at once: the instruments are worse than was \
                 assumed, or something is wrong that is not weighed here."
            );
            return say(true, "The readings scatter more than they should", rest);
        }
        let mut rest = format!(" ({chi}).");
        if self.explained < SCATTERED {
            rest.push_str(
                " No slip that is weighed explains all of it, neither one nor two at once; what follows comes nearest.",
            );
        } else if self.taken().is_some_and(|taken| taken.also.is_some()) {
            rest.push_str(" No single slip explains it; two at once do.");
        }
        say(true, "These readings cannot all be true", rest)
    }

    /// The causes that are worth naming, the likeliest first.
    pub fn likely(&self) -> impl Iterator<Item = &Ranked> {
        self.causes
            .iter()
            .filter(|ranked| ranked.probability >= LEAST_NAMED)
            .take(MOST_NAMED)
    }

    /// What those causes stand under.
    #[must_use]
    pub fn likely_heading(&self) -> &'static str {
        if self.likely().any(|ranked| ranked.also.is_some()) {
            "Likely causes, one slip or two at once"
        } else {
            "Likely causes, one slip at a time"
        }
    }

    /// What makes the rest agree when it is left out, a sentence and a list; none where nothing
    /// does so alone.
    #[must_use]
    pub fn suspects_in_words(&self, sheet: &BenchSheet) -> Option<(String, Vec<String>)> {
        match self.suspects.as_slice() {
            [] => None,
            [one] => {
                let words = format!("Without this the rest agrees: {}.", one.title(sheet));
                Some((words, Vec::new()))
            }
            many => {
                let words = "Leave out any one of these, and the rest agrees; together they cannot be true:";
                let list = many.iter().take(MOST_NAMED).map(|s| s.title(sheet));
                Some((words.to_owned(), list.collect()))
            }
        }
    }

    /// What the motor's figures stand under.
    #[must_use]
    pub fn motor_heading(&self, sheet: &BenchSheet) -> String {
        match self.taken() {
            Some(taken) if !taken.is_all_right() => format!(
                "The motor, if {} (95 of 100 lie within ±)",
                taken.title(sheet)
            ),
            _ => "The motor (95 of 100 lie within ±)".to_owned(),
        }
    }

    /// What the readings stand under, each beside what it should have been.
    #[must_use]
    pub fn readings_heading(&self, sheet: &BenchSheet) -> String {
        match self.taken() {
            Some(taken) if !self.agree => format!(
                "Each reading as noted, and as it should have been if {}",
                taken.title(sheet)
            ),
            _ => "Each reading as noted, beside what the others say of it".to_owned(),
        }
    }

    /// What the next steps stand under.
    #[must_use]
    pub const fn next_heading(&self) -> &'static str {
        if self.agree {
            "What would tell more"
        } else {
            "What settles it"
        }
    }
}

impl Check {
    /// Whether it lies far from what it should be.
    #[must_use]
    pub fn is_marked(&self) -> bool {
        self.normalised.is_some_and(|off| off.abs() >= MARKED)
    }

    /// How far it is off: "off by −0.4 u".
    #[must_use]
    pub fn words(&self) -> String {
        let words = match self.normalised {
            None => "checked by no other".to_owned(),
            Some(off) if off.abs() >= 100.0 => "off by over 100 u".to_owned(),
            Some(off) if off.abs() < 0.05 => "off by 0.0 u".to_owned(),
            Some(off) => format!("off by {off:.1} u"),
        };
        words.replace('-', "−")
    }
}

/// What u is, of the column that says how far a reading is off.
pub const U_IN_WORDS: &str = "u is the standard uncertainty of the difference, half of ±. Where no ± was noted, the \
     instrument's class gives it (common practice, no source).";

/// What to mind about the two speeds per volt of a delta; none where the motor is a star.
#[must_use]
pub fn delta_in_words(estimates: &[Estimate]) -> Option<&'static str> {
    let delta = estimates.iter().any(|e| e.figure.key == OPEN_LEADS);
    delta.then_some(
        "In delta an instrument between open leads shows less than the whole EMF of a winding: what the three have in \
         common, a third harmonic above all, goes round the loop. Kv counts a winding's own EMF, as a setup does; for \
         a sine both are the same.",
    )
}

/// The risks of the tests themselves, where they were made, and of what they found.
#[must_use]
pub fn bench_cautions(sheet: &BenchSheet, estimates: &[Estimate]) -> Vec<String> {
    let most = |wanted: fn(&Of) -> bool| {
        sheet
            .readings
            .iter()
            .filter(|reading| wanted(&reading.of))
            .map(|reading| reading.value)
            .fold(0.0_f64, f64::max)
    };
    let speed = most(|of| matches!(of, Of::Speed { .. }));
    let stall_a = most(|of| matches!(of, Of::StallCurrent { .. }));
    let found = |key: &str| {
        let estimate = estimates.iter().find(|e| e.figure.key == key)?;
        estimate.figure.number()
    };
    let k = found("torque_constant_nm_per_a").unwrap_or(0.0);
    let ohm = found("line_resistance_20c_ohm").unwrap_or(0.0);
    let heat_w = ohm * stall_a * stall_a;
    let mut lines = Vec::new();
    if sheet.rows.spun > 0 {
        lines.push(
            "Spinning by a drill: clamp the motor, take propeller and pulley off, cover the leads; they carry voltage \
             as long as it turns."
                .to_owned(),
        );
    }
    if sheet.rows.stall > 0 {
        lines.push(format!(
            "At the stall all power is heat{}: seconds at a time, a hand on nothing, from a supply with a current \
             limit and never straight from a lithium pack.",
            if heat_w >= 1.0 {
                format!(", here {heat_w:.0} W in the windings")
            } else {
                String::new()
            }
        ));
    }
    if sheet.rows.no_load + sheet.rows.driven > 0 && sheet.rows.stall == 0 {
        lines.push(
            "On its controller: begin with a supply that limits the current; a lithium pack gives hundreds of amperes \
             into a fault and can catch fire."
                .to_owned(),
        );
    }
    lines.extend(cautions(&Hazards {
        supply_voltage_v: most(|of| matches!(of, Of::NoLoadVoltage { .. })),
        line_back_emf_v: k * speed,
        current_peak_a: stall_a,
        heat_w: 0.0,
        speed_rpm: speed * 30.0 / std::f64::consts::PI,
    }));
    lines
}

/// A part in percent, never 0 or 100 unless it is.
#[must_use]
pub fn percent(part: f64) -> String {
    let percent = 100.0 * part;
    if percent > 99.5 && percent < 100.0 {
        "> 99".to_owned()
    } else if percent > 0.0 && percent < 1.0 {
        "< 1".to_owned()
    } else {
        format!("{percent:.0}")
    }
}

fn plural(n: usize, word: &str) -> String {
    if n == 1 {
        format!("{n} {word}")
    } else {
        format!("{n} {word}s")
    }
}
