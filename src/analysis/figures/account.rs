//! What a run's account left over, and what the window and the steps were.

use super::super::WindowKind;
use super::super::figure::{Figure, Group, Input, Source, Value};
use super::super::number::Unit;
use super::{STEADY, Sheet, finite};

const RESIDUAL: Source = Source::definition("energy residual");

impl Sheet<'_> {
    pub(super) fn account(&self, figures: &mut Vec<Figure>) {
        let account = self.account;
        let (left_over_j, base_j, share) = (
            account.leftover_j(),
            account.reference_j(),
            account.residual(),
        );
        let joule = |symbol, name, value| Input::new(symbol, name, value, Unit::JOULE);
        figures.push(Figure {
            dust: 0.0,
            key: "energy_residual",
            name: "energy residual",
            symbol: "ε",
            group: Group::Account,
            value: finite(share),
            unit: Unit::NUMBER,
            formula: "( E + E_hand − A − Q_fr − Q_cu − Q_br − ΔE_L − ΔE_C − ΔE_kin − ΔE_cog ) / E_base",
            inputs: vec![
                joule("E", "from the supply, whole run", account.supply_j),
                joule("E_hand", "put in by changes of the bench", account.by_hand_j),
                joule("A", "work on the load", account.shaft_j),
                joule("Q_fr", "friction", account.friction_j),
                joule("Q_cu", "copper", account.copper_j),
                joule("Q_br", "switches and diodes", account.bridge_j),
                joule("ΔE_L", "change of energy in the inductances", account.magnetic_change_j),
                joule("ΔE_C", "in the capacitor", account.capacitor_change_j),
                joule("ΔE_kin", "in the turning masses", account.kinetic_change_j),
                joule("ΔE_cog", "in the cogging", account.cogging_change_j),
                joule("E_base", "energy from the supply, or the largest term (turnover through the bridge included) where that is near zero", base_j),
            ],
            source: RESIDUAL,
            note: if left_over_j == 0.0 {
                "Nothing left over."
            } else {
                "What no term accounts for: rounding. More than 1e-6 would be an error of the program."
            },
        });
        figures.push(Figure {
            dust: 0.0,
            key: "window_s",
            name: "measuring window",
            symbol: "T",
            group: Group::Account,
            value: if self.window_s > 0.0 {
                finite(self.window_s)
            } else {
                Value::Absent("the measuring window has no length")
            },
            unit: Unit::SECOND,
            formula: "t_end − t_start",
            inputs: vec![
                Input::new("t_end", "last instant", self.totals.end_s, Unit::SECOND),
                Input::new(
                    "t_start",
                    "first instant",
                    self.totals.start_s,
                    Unit::SECOND,
                ),
            ],
            source: STEADY,
            note: "At the end of the run.",
        });
        let words = |key, name, value, note| Figure {
            dust: 0.0,
            key,
            name,
            symbol: "",
            group: Group::Account,
            value,
            unit: Unit::NUMBER,
            formula: "",
            inputs: Vec::new(),
            source: STEADY,
            note,
        };
        figures.push(words(
            "window_kind",
            "window taken over",
            Value::Words(self.window_words()),
            "Whole mechanical turns where one fits, else electrical turns, else plain time.",
        ));
        figures.push(words(
            "commutations",
            "step changes",
            Value::Count(self.end.commutations),
            "Of the whole run.",
        ));
        let in_step = if self.end.in_step {
            "yes"
        } else {
            "no: the rotor is lost"
        };
        figures.push(words(
            "in_step",
            "in step",
            Value::Words(in_step.to_owned()),
            "Only a forced drive can lose the rotor.",
        ));
        let warnings = match self.end.warnings.len() {
            0 => Value::Words("none".to_owned()),
            _ => Value::Words(self.end.warnings.join("; ")),
        };
        figures.push(words("warnings", "warnings", warnings, ""));
    }

    fn window_words(&self) -> String {
        let turns = self.totals.turns;
        let s = if turns == 1 { "" } else { "s" };
        match self.totals.kind {
            WindowKind::MechanicalTurns => format!("{turns} mechanical turn{s}"),
            WindowKind::ElectricalTurns => format!("{turns} electrical turn{s}"),
            WindowKind::Time => "plain time".to_owned(),
        }
    }
}
