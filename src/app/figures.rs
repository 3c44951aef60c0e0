//! Six large figures at the instant that is shown.

use egui::{Align2, Rect, Sense, Ui, WidgetInfo};

use super::{Frame, style};
use crate::scene::Theme;

/// A quantity as people read it.
struct Figure {
    name: &'static str,
    /// Value in the unit.
    value: f64,
    unit: &'static str,
}

/// Draws the figures in one row of equal places.
pub(super) fn figures_ui(ui: &mut Ui, rect: Rect, frame: &Frame, theme: &Theme) {
    let now = &frame.now;
    let rpm = now.speed_rad_s * 30.0 / std::f64::consts::PI;
    let power_w = now.supply_current_a * now.supply_voltage_v;
    let degrees = now.theta_elec_rad.to_degrees().rem_euclid(360.0);
    let figures = [
        Figure {
            name: "speed",
            value: rpm,
            unit: "rpm",
        },
        Figure {
            name: "torque",
            value: now.torque_nm * 1000.0,
            unit: "mNm",
        },
        Figure {
            name: "bridge current",
            value: now.supply_current_a,
            unit: "A",
        },
        Figure {
            name: "bridge voltage",
            value: now.supply_voltage_v,
            unit: "V",
        },
        Figure {
            name: "bridge power",
            value: power_w,
            unit: "W",
        },
        Figure {
            name: "elec. angle",
            value: degrees,
            unit: "°",
        },
    ];
    #[expect(clippy::cast_precision_loss, reason = "six")]
    let width = rect.width() / figures.len() as f32;
    for (idx, figure) in figures.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "0 to 5")]
        let left = rect.left() + width * idx as f32;
        let place = Rect::from_min_size(
            egui::pos2(left, rect.top()),
            egui::vec2(width, rect.height()),
        );
        figure_ui(
            ui,
            place.shrink2(egui::vec2(style::gap(2.0), style::gap(1.0))),
            figure,
            theme,
        );
    }
}

fn figure_ui(ui: &mut Ui, rect: Rect, figure: &Figure, theme: &Theme) {
    let value = three_digits(figure.value);
    let painter = ui.painter();
    let (soft, ink) = (style::colour(theme.ink_soft), style::colour(theme.ink));
    painter.text(
        rect.left_top(),
        Align2::LEFT_TOP,
        figure.name,
        style::type_size(0),
        soft,
    );
    // The number ends, and the unit begins, at a place of their own: neither moves the other.
    let large = rect.width() > 112.0;
    let size = style::type_size(if large { 3 } else { 2 });
    let reach: f32 = if large { 88.0 } else { 56.0 };
    let split = rect.left() + reach.min(rect.width() * 0.68);
    let base = rect.bottom() - style::gap(1.0);
    painter.text(
        egui::pos2(split, base),
        Align2::RIGHT_BOTTOM,
        &value,
        size,
        ink,
    );
    let unit_at = egui::pos2(split + style::gap(1.0), base - style::gap(0.5));
    painter.text(
        unit_at,
        Align2::LEFT_BOTTOM,
        figure.unit,
        style::type_size(1),
        soft,
    );
    let response = ui.interact(rect, ui.scope_id().with(figure.name), Sense::hover());
    let words = format!("{}: {value} {}", figure.name, figure.unit);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, &words));
    response.on_hover_text(format!(
        "{}: {:.9} {}",
        figure.name, figure.value, figure.unit
    ));
}

/// Three significant digits, whole numbers whole, and the true minus sign.
fn three_digits(value: f64) -> String {
    if !value.is_finite() {
        return "—".to_owned();
    }
    let size = value.abs();
    let decimals = if size >= 99.95 {
        0
    } else if size >= 9.995 {
        1
    } else {
        2
    };
    let text = format!("{size:.decimals$}");
    let is_zero = text.chars().all(|digit| matches!(digit, '0' | '.'));
    if value < 0.0 && !is_zero {
        format!("−{text}")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_stay_three_over_a_decade() {
        for (value, wanted) in [
            (0.0, "0.00"),
            (-0.001, "0.00"),
            (9.994, "9.99"),
            (9.996, "10.0"),
            (-12.34, "−12.3"),
            (99.96, "100"),
            (3421.4, "3421"),
            (f64::NAN, "—"),
        ] {
            assert_eq!(three_digits(value), wanted, "{value}");
        }
    }
}
