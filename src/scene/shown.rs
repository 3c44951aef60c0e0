//! What of a setup the pictures need.

use crate::record::Sample;
use crate::scene::machine::MachineView;
use crate::setup::{Connection, Construction, GeometrySetup, Setup};
use crate::winding::{CoilSide, Winding, WindingError};

/// The facts of the bench that stay the same while the motor runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// What a person calls the setup.
    pub title: String,
    /// Rotor inside or outside.
    pub construction: Construction,
    /// Magnetic poles.
    pub poles: u32,
    /// Coil sides: `[slot][layer]`, as in [`MachineView`](super::machine::MachineView).
    pub sides: Vec<[Option<CoilSide>; 2]>,
    /// Slots that a coil spans.
    pub coil_span: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Dimensions, where given.
    pub geometry: Option<GeometrySetup>,
    /// Open-circuit voltage of the source in V.
    pub source_v: f64,
    /// Resistance of the source in ohm, where it has one; then a capacitor lies across the
    /// bridge.
    pub source_ohm: Option<f64>,
}

impl Shown {
    /// Takes from a setup what the pictures need. Where it does not say how it is wound, two
    /// layers of tooth coils are laid out, as the setup format has it.
    ///
    /// # Errors
    /// What the winding room has against the winding.
    pub fn new(setup: &Setup) -> Result<Self, WindingError> {
        let (machine, supply) = (&setup.machine, &setup.bench.supply);
        let (slots, poles) = (machine.slots, machine.poles);
        let winding = match &machine.winding {
            None => Winding::lay_out(slots, poles, 2, 1)?,
            Some(written) => match &written.layout {
                None => Winding::lay_out(slots, poles, written.layers, written.coil_span)?,
                Some(sides) => Winding::from_layout(slots, poles, written.layers, sides)?,
            },
        };
        let sides = (0..slots)
            .map(|slot| {
                let here = winding.sides_in_slot(slot);
                [here.first().copied(), here.get(1).copied()]
            })
            .collect();
        Ok(Self {
            title: setup.title.clone(),
            construction: machine.construction,
            poles,
            sides,
            coil_span: winding.coil_span().unwrap_or(1),
            connection: machine.connection,
            geometry: machine.geometry.clone(),
            source_v: supply.voltage_v,
            source_ohm: supply.source.map(|source| source.resistance_ohm),
        })
    }

    /// The machine at an instant, with the current that is shown at full size, in A.
    #[must_use]
    pub fn view<'a>(&'a self, now: &Sample, full_current_a: f64) -> MachineView<'a> {
        MachineView {
            construction: self.construction,
            poles: self.poles,
            sides: &self.sides,
            coil_span: self.coil_span,
            connection: self.connection,
            geometry: self.geometry.as_ref(),
            theta_mech_rad: now.theta_mech_rad,
            phase_current_a: now.phase_current_a,
            full_current_a,
        }
    }
}
