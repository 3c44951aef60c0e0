//! The winding as a numbered list that a person with wire in hand can follow.
//!
//! *Up* is towards the drive end, *down* away from it; slots and teeth count counter-clockwise
//! seen from the drive end, tooth n between slots n and n + 1. Leads leave at the end away from
//! the drive, so that every coil has whole turns.

use std::fmt::Write as _;

use crate::setup::{Connection, Construction};
use crate::winding::{Coil, CoilOrder, CoilPath, Phase, Winding};

/// What the list is about.
#[derive(Clone, Copy, Debug)]
pub struct WindingSteps<'a> {
    /// The winding.
    pub winding: &'a Winding,
    /// Its coils in order.
    pub order: &'a CoilOrder,
    /// Turns of a coil, where known.
    pub turns: Option<u32>,
    /// Star or delta.
    pub connection: Connection,
    /// Which side of the gap the stator is on, where known.
    pub construction: Option<Construction>,
}

impl WindingSteps<'_> {
    /// True for coils round one tooth.
    fn tooth_coils(&self) -> bool {
        let slots = self.winding.slots();
        self.order
            .paths
            .iter()
            .flat_map(|path| &path.coils)
            .all(|coil| (coil.from_slot + 1) % slots == coil.to_slot)
    }

    /// The list as plain text, ending in a line break.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        self.heading(&mut out);
        let mut step = 0;
        for phase in Phase::ALL {
            for path in self.order.of_phase(phase) {
                self.path(&mut out, path, &mut step);
            }
        }
        self.joints(&mut out, &mut step);
        self.parallel(&mut out);
        out
    }

    fn heading(&self, out: &mut String) {
        let (slots, tooth) = (self.winding.slots(), self.tooth_coils());
        let kind = match (tooth, self.order.concentric, self.winding.coil_span()) {
            (true, ..) => "a coil round a tooth".to_owned(),
            (false, false, Some(span)) => format!("coils over {span} slots"),
            _ => "concentric coils, one inside the other".to_owned(),
        };
        let layers = self.winding.layers();
        let _ = writeln!(
            out,
            "{slots} slots, {} poles, {layers} layer{}, {kind}; {} a coil",
            self.winding.poles(),
            if layers == 1 { "" } else { "s" },
            match self.turns {
                Some(1) => "1 turn".to_owned(),
                Some(turns) => format!("{turns} turns"),
                None => "the same number of turns".to_owned(),
            }
        );
        out.push_str(
            "Slots count counter-clockwise, seen from the drive end; tooth 1 lies between\n\
             slots 1 and 2. Up: towards the drive end. Leads leave at the other end.\n",
        );
        if tooth {
            out.push_str(match self.construction {
                Some(Construction::Outrunner) => {
                    "Clockwise (cw) and counter-clockwise (ccw): looking at the tooth from the gap.\n"
                }
                Some(Construction::Inrunner) => {
                    "Clockwise (cw) and counter-clockwise (ccw): looking at the tooth from behind,\n\
                     through the yoke; from the gap it is the other way round.\n"
                }
                None => {
                    "Clockwise (cw) and counter-clockwise (ccw): looking at the tooth from outside\n\
                     the stator.\n"
                }
            });
        } else if self.winding.layers() == 2 {
            out.push_str(
                "Of the two sides in a slot, the one that its coil comes back to lies at the\n\
                 bottom: lay every coil with its later slot below, and lift the first ones to\n\
                 get the last ones under them.\n",
            );
        }
    }

    /// Name of a path's lead: U1, or U1a, U1b with parallel paths.
    fn lead(&self, path: &CoilPath, end: u32) -> String {
        lead_name(path, end, self.order.n_parallel)
    }

    fn path(&self, out: &mut String, path: &CoilPath, step: &mut u32) {
        let n = path.coils.len();
        let _ = write!(out, "\nPhase {}", path.phase);
        if self.order.n_parallel > 1 {
            let _ = write!(out, ", path {}", letter(path.path_idx));
        }
        let plural = if n == 1 { "" } else { "s in series" };
        let _ = writeln!(out, ": {n} coil{plural}");
        let mut last: Option<Coil> = None;
        for coil in &path.coils {
            let up = coil.up_slot() + 1;
            let begin = match last {
                None => format!("Lead {} into slot {up}.", self.lead(path, 1)),
                Some(before) => {
                    let from = before.down_slot() + 1;
                    if from == up {
                        format!("On from slot {from}.")
                    } else {
                        format!("Cross over from slot {from} to slot {up}.")
                    }
                }
            };
            put(out, step, &begin);
            put(out, step, &self.coil(*coil));
            last = Some(*coil);
        }
        if let Some(coil) = last {
            let end = format!(
                "Lead {} out of slot {}.",
                self.lead(path, 2),
                coil.down_slot() + 1
            );
            put(out, step, &end);
        }
    }

    fn coil(&self, coil: Coil) -> String {
        let (up, down) = (coil.up_slot() + 1, coil.down_slot() + 1);
        let turns = match self.turns {
            Some(1) => ", 1 turn".to_owned(),
            Some(turns) => format!(", {turns} turns"),
            None => String::new(),
        };
        if self.tooth_coils() {
            let sense = if coil.positive { "cw" } else { "ccw" };
            format!(
                "Tooth {} {sense}{turns}: up slot {up}, down slot {down}.",
                coil.from_slot + 1
            )
        } else {
            format!("Coil{turns}: up slot {up}, down slot {down}.")
        }
    }

    fn joints(&self, out: &mut String, step: &mut u32) {
        out.push_str("\nJoints\n");
        if self.order.n_parallel > 1 {
            for phase in Phase::ALL {
                for end in [1, 2] {
                    let leads: Vec<String> = self
                        .order
                        .of_phase(phase)
                        .map(|path| self.lead(path, end))
                        .collect();
                    let text = format!("Join {} as {phase}{end}.", leads.join(", "));
                    put(out, step, &text);
                }
            }
        }
        for text in joint_texts(self.connection) {
            put(out, step, text);
        }
        if self.winding.phase_order_reversed() {
            out.push_str(
                "The phases follow U, W, V: the rotor turns clockwise with U, V, W fed.\n",
            );
        }
    }

    fn parallel(&self, out: &mut String) {
        out.push_str("\nParallel paths\n");
        let possible = &self.order.possible_parallel;
        let Some(most) = possible.last().filter(|most| **most > 1) else {
            out.push_str(
                "None: no two parts of a phase have equal EMFs. All coils of a phase in series.\n",
            );
            return;
        };
        let words: Vec<String> = possible.iter().map(u32::to_string).collect();
        let _ = writeln!(
            out,
            "A phase may have {} paths: coils with equal EMFs in step.",
            words.join(" or ")
        );
        let Ok(order) = CoilOrder::of(self.winding, *most) else {
            return;
        };
        for phase in Phase::ALL {
            let groups: Vec<String> = order.of_phase(phase).map(|path| self.group(path)).collect();
            let _ = writeln!(out, "  {phase}: {}", groups.join(" | "));
        }
    }

    /// The coils of a path, `+` wound up through the lower numbered slot, `-` the other way.
    fn group(&self, path: &CoilPath) -> String {
        let what = if self.tooth_coils() {
            "teeth"
        } else {
            "from slots"
        };
        let coils: Vec<String> = path
            .coils
            .iter()
            .map(|c| format!("{}{}", if c.positive { '+' } else { '-' }, c.from_slot + 1))
            .collect();
        format!("{what} {}", coils.join(" "))
    }
}

/// The lead's name after IEC 60034-8: `U1` begins and `U2` ends a phase; with parallel paths a
/// letter follows.
#[must_use]
pub fn lead_name(path: &CoilPath, end: u32, n_parallel: u32) -> String {
    if n_parallel > 1 {
        format!("{}{end}{}", path.phase, letter(path.path_idx))
    } else {
        format!("{}{end}", path.phase)
    }
}

/// What is joined with what.
const fn joint_texts(connection: Connection) -> &'static [&'static str] {
    match connection {
        Connection::Star => &[
            "Star: join U2, V2, W2 and insulate the joint.",
            "U1, V1, W1 are the three terminals.",
        ],
        Connection::Delta => &[
            "Delta: join U2 with V1, V2 with W1, W2 with U1.",
            "The three joints are the terminals: U1 with W2, V1 with U2, W1 with V2.",
        ],
    }
}

/// `a` for 0, `b` for 1; numbers past `z`.
fn letter(idx: u32) -> String {
    char::from_u32(u32::from('a') + idx)
        .filter(char::is_ascii_lowercase)
        .map_or_else(|| format!("-{}", idx + 1), String::from)
}

fn put(out: &mut String, step: &mut u32, text: &str) {
    *step += 1;
    let _ = writeln!(out, "{step:>4}. {text}");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(winding: &Winding, n_parallel: u32, connection: Connection) -> String {
        WindingSteps {
            winding,
            order: &CoilOrder::of(winding, n_parallel).unwrap(),
            turns: Some(9),
            connection,
            construction: None,
        }
        .text()
    }

    /// Following the list slot by slot gives the layout back.
    #[test]
    fn the_list_gives_the_layout() {
        for (slots, poles, layers, span) in [
            (12, 14, 2, 1),
            (9, 6, 2, 1),
            (12, 10, 1, 1),
            (36, 4, 2, 8),
            (24, 4, 1, 6),
        ] {
            let winding = Winding::lay_out(slots, poles, layers, span).unwrap();
            let text = text(&winding, 1, Connection::Star);
            let mut ups = vec![0; slots as usize];
            let mut downs = ups.clone();
            for line in text.lines().filter(|line| line.contains(": up slot ")) {
                let slot = |from: &str| -> usize {
                    let rest = line.split(from).nth(1).unwrap();
                    let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
                    digits.parse().unwrap()
                };
                ups[slot("up slot ") - 1] += 1;
                downs[slot("down slot ") - 1] += 1;
            }
            for slot in 0..slots {
                let sides = winding.sides_in_slot(slot);
                let towards = sides.iter().filter(|side| side.towards_viewer).count();
                assert_eq!(ups[slot as usize], towards, "{text}");
                assert_eq!(downs[slot as usize], sides.len() - towards);
            }
        }
    }

    #[test]
    fn joints_and_leads_are_named() {
        let winding = Winding::lay_out(12, 14, 2, 1).unwrap();
        let star = text(&winding, 1, Connection::Star);
        assert!(
            star.contains("join U2, V2, W2") && star.contains("Lead W1"),
            "{star}"
        );
        let delta = text(&winding, 2, Connection::Delta);
        assert!(delta.contains("join U2 with V1") && delta.contains("Join U1a, U1b as U1"));
    }
}
