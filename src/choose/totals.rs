//! What a combination costs and weighs, where its parts say so.

use super::parts::{Axis, Part};
use super::search::{Choice, Row};
use crate::analysis::{Unit, shown};

/// Sums over the parts that are chosen; `None` where one of them does not say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// In the money of the table.
    pub price: Option<f64>,
    /// In kg.
    pub mass_kg: Option<f64>,
}

impl Totals {
    /// "price 61.40, 412 g"; empty where nothing is known.
    #[must_use]
    pub fn words(&self) -> String {
        let price = self.price.map(|price| format!("price {price:.2}"));
        let mass = self.mass_kg.map(|kg| {
            let (value, unit) = if kg < 1.0 {
                (1e3 * kg, "g")
            } else {
                (kg, "kg")
            };
            format!("{} {unit}", shown(value, Unit::NUMBER, 3).number)
        });
        let both: Vec<String> = price.into_iter().chain(mass).collect();
        both.join(", ")
    }
}

impl Choice {
    /// What a combination costs and weighs. What the goal itself has is not bought.
    #[must_use]
    pub fn totals(&self, row: &Row) -> Totals {
        let each: Vec<Totals> = self
            .chosen()
            .map(|axis| self.own(axis, row.parts[axis as usize]))
            .collect();
        let sum = |of: fn(&Totals) -> Option<f64>| {
            let sum = each.iter().map(of).sum::<Option<f64>>();
            sum.filter(|_| !each.is_empty())
        };
        Totals {
            price: sum(|own| own.price),
            mass_kg: sum(|own| own.mass_kg),
        }
    }

    /// Price and mass of one part.
    fn own(&self, axis: Axis, at: usize) -> Totals {
        fn of<T>(parts: &[Part<T>], at: usize) -> Totals {
            parts.get(at).map_or_else(Totals::default, |part| Totals {
                price: part.price,
                mass_kg: part.mass_kg,
            })
        }
        let parts = self.parts();
        match axis {
            Axis::Motor => of(&parts.motors, at),
            Axis::Pack => of(&parts.packs, at),
            Axis::Controller => of(&parts.controllers, at),
            Axis::Gear => of(&parts.gears, at),
            Axis::Propeller => of(&parts.propellers, at),
        }
    }
}
