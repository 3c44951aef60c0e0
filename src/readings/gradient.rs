//! The slopes of one prediction.

/// Gradient of one prediction: indices and derivatives, in place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gradient {
    slopes: [(usize, f64); 10],
    n: usize,
}

impl Gradient {
    pub(super) fn new(slopes: &[(usize, f64)]) -> Self {
        let mut gradient = Self {
            slopes: [(0, 0.0); 10],
            n: 0,
        };
        for &slope in slopes {
            gradient.push(slope);
        }
        gradient
    }

    /// A reading has ten at most: a voltage without load seven of its own, its gain, and two faults
    /// of unknown size. A test holds all of them against differences.
    pub(super) fn push(&mut self, slope: (usize, f64)) {
        debug_assert!(self.n < self.slopes.len(), "no room for a slope: {slope:?}");
        if let Some(place) = self.slopes.get_mut(self.n) {
            *place = slope;
            self.n += 1;
        }
    }

    pub(super) fn slopes(&self) -> &[(usize, f64)] {
        &self.slopes[..self.n]
    }

    /// All slopes times a factor.
    pub(super) fn scale(&mut self, factor: f64) {
        for (_, slope) in &mut self.slopes {
            *slope *= factor;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::causes::variants;
    use super::super::model::Model;
    use super::super::sheet::{BenchSheet, example_sheet};

    /// Every slope of every prediction, faults of unknown size among them, against differences of
    /// the prediction itself; a slope that was left out would show as one that is zero.
    #[test]
    fn slopes_are_those_of_the_predictions() {
        let text = format!(
            "{}\n[[stall]]\ncurrent = \"4 A\"\nvoltage = \"0.4 V\"\n",
            example_sheet()
        );
        let sheet = BenchSheet::parse(&text, "example").unwrap();
        for variant in variants(&sheet) {
            let model = Model::new(&sheet, &variant);
            let theta = super::super::start::start(&model);
            for idx in 0..sheet.readings.len() {
                let (value, gradient) = model.shown(&theta, idx, true);
                for unknown in 0..theta.len() {
                    let step = 1e-6 * theta[unknown].abs().max(1.0);
                    let at = |by: f64| {
                        let mut moved = theta.clone();
                        moved[unknown] += by;
                        model.shown(&moved, idx, true).0
                    };
                    let want = (at(step) - at(-step)) / (2.0 * step);
                    let got: f64 = gradient
                        .slopes()
                        .iter()
                        .filter(|(at, _)| *at == unknown)
                        .map(|(_, slope)| slope)
                        .sum();
                    let place = sheet.readings[idx].place();
                    assert!(
                        (got - want).abs() < 2e-4 * (value.abs() + want.abs()),
                        "{:?}: {place}, unknown {unknown}: {got} for {want}",
                        variant.cause
                    );
                }
            }
        }
    }
}
