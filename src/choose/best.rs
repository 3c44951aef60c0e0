//! What goes with an answer: where its figures stop being true, and what can hurt somebody.

use super::search::{Choice, Row};
use crate::predict::{bench_cautions, doubts_of_parts};

/// What goes before all that is chosen.
pub const LABELS: &str = "These are closed forms of labels. Data sheets of the real parts, and whoever is licensed where rules ask \
     for one, go before these lines.";

/// Sentences about an answer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AnswerWords {
    /// Where its figures stop being true.
    pub doubts: Vec<String>,
    /// What it could do to people.
    pub cautions: Vec<String>,
}

impl AnswerWords {
    /// About a combination that does; `None` for one that does not.
    #[must_use]
    pub fn of(choice: &Choice, row: &Row) -> Option<Self> {
        let (answer, build) = (row.outcome.as_ref().ok()?, choice.build(row)?);
        let mut doubts = Vec::new();
        if build.motor.line_inductance_h.is_none() {
            doubts.push(
                "The motor's inductance is not given and estimated: the truth may ask for more duty or less."
                    .to_owned(),
            );
        }
        doubts.extend(doubts_of_parts(&build, &answer.point));
        // without load, fully on
        let fastest_rad_s = build.pack.voltage_v * build.motor.kv_rad_per_v_s;
        let mut cautions = bench_cautions(&build, &answer.point, fastest_rad_s);
        cautions.push(LABELS.to_owned());
        Some(Self { doubts, cautions })
    }
}
