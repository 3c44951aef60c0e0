//! What is varied, and every combination of it in a fixed order.

use serde::{Deserialize, Serialize};

use super::row::Row;
use crate::setup::Connection;

/// The most candidates that one comparison may have.
pub const MAX_CANDIDATES: u64 = 200_000;

/// The values of everything that is varied; a list of one for what is not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Axes {
    /// Slots.
    pub slots: Vec<u32>,
    /// Poles.
    pub poles: Vec<u32>,
    /// Magnet arcs as parts of the pole pitch; `None`: no dimensions are known.
    pub magnet_arcs: Vec<Option<f64>>,
    /// Coil sides in a slot.
    pub layers: Vec<u32>,
    /// Coil spans in slots.
    pub spans: Vec<u32>,
    /// Star, delta.
    pub connections: Vec<Connection>,
    /// Turns of a coil.
    pub turns: Vec<Option<u32>>,
    /// Bare diameters of one strand in m.
    pub wires_m: Vec<Option<f64>>,
}

/// One combination.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Its place in the order, from 0.
    pub idx: u64,
    /// Slots.
    pub slots: u32,
    /// Poles.
    pub poles: u32,
    /// Magnet arc as a part of the pole pitch.
    pub magnet_arc: Option<f64>,
    /// Coil sides in a slot.
    pub layers: u32,
    /// Coil span in slots.
    pub span: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Turns of a coil.
    pub turns: Option<u32>,
    /// Bare diameter of one strand in m.
    pub wire_m: Option<f64>,
}

impl Axes {
    /// How many groups there are; saturates.
    #[must_use]
    pub fn n_groups(&self) -> u64 {
        [
            self.slots.len(),
            self.poles.len(),
            self.magnet_arcs.len(),
            self.layers.len(),
            self.spans.len(),
        ]
        .into_iter()
        .fold(1, |product, n| product.saturating_mul(n as u64))
    }

    /// Candidates of each group; saturates.
    #[must_use]
    pub fn group_size(&self) -> u64 {
        [self.connections.len(), self.turns.len(), self.wires_m.len()]
            .into_iter()
            .fold(1, |product, n| product.saturating_mul(n as u64))
    }

    /// How many candidates there are; saturates.
    #[must_use]
    pub fn n_candidates(&self) -> u64 {
        self.n_groups().saturating_mul(self.group_size())
    }

    /// The candidate at a place: slots vary slowest, then poles, magnet arc, layers, span,
    /// connection, turns, and wire fastest. `None` past the last one.
    #[must_use]
    pub fn candidate(&self, idx: u64) -> Option<Candidate> {
        if idx >= self.n_candidates() {
            return None;
        }
        let mut rest = idx;
        let wire_m = pick(&self.wires_m, &mut rest)?;
        let turns = pick(&self.turns, &mut rest)?;
        let connection = pick(&self.connections, &mut rest)?;
        let span = pick(&self.spans, &mut rest)?;
        let layers = pick(&self.layers, &mut rest)?;
        let magnet_arc = pick(&self.magnet_arcs, &mut rest)?;
        let poles = pick(&self.poles, &mut rest)?;
        let slots = pick(&self.slots, &mut rest)?;
        Some(Candidate {
            idx,
            slots: *slots,
            poles: *poles,
            magnet_arc: *magnet_arc,
            layers: *layers,
            span: *span,
            connection: *connection,
            turns: *turns,
            wire_m: *wire_m,
        })
    }
}

impl Axes {
    /// A short name for a row of these: slots over poles, and what else is varied.
    #[must_use]
    pub fn name_of(&self, row: &Row) -> String {
        let mut name = format!("{}/{}", row.slots, row.poles);
        if self.layers.len() > 1 {
            name += &format!(" {}L", row.layers);
        }
        if self.spans.len() > 1 {
            name += &format!(" y{}", row.coil_span);
        }
        if let (true, Some(turns)) = (self.turns.len() > 1, row.turns) {
            name += &format!(" {turns}t");
        }
        if let (true, Some(wire_m)) = (self.wires_m.len() > 1, row.wire_diameter_m) {
            name += &format!(" {:.2}", wire_m * 1e3);
        }
        if self.connections.len() > 1 {
            name += match row.connection {
                Connection::Star => " Y",
                Connection::Delta => " D",
            };
        }
        if let (true, Some(arc)) = (self.magnet_arcs.len() > 1, row.magnet_arc) {
            name += &format!(" a{arc}");
        }
        name
    }
}

/// The value that the lowest digit of `rest` picks; what is left of `rest` goes on.
fn pick<'a, T>(values: &'a [T], rest: &mut u64) -> Option<&'a T> {
    let n = values.len() as u64;
    let digit = usize::try_from(rest.checked_rem(n)?).ok()?;
    *rest /= n;
    values.get(digit)
}
