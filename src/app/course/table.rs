//! A table of a page: columns as wide as their words want, narrower where there is no place.

use egui::{Align, Layout, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::blocks::{Span, plain};
use super::words::{Heard, Setting};
use crate::app::style;

/// Most columns; what stands beyond is not drawn.
const MOST_COLUMNS: usize = 12;
/// Room between two columns, in points.
const BETWEEN: f32 = 9.0;

/// Draws the table.
pub(super) fn table_ui(
    ui: &mut Ui,
    rows: &[Vec<Vec<Span>>],
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let n_columns = rows
        .iter()
        .map(Vec::len)
        .max()
        .unwrap_or(0)
        .min(MOST_COLUMNS);
    if n_columns == 0 {
        return;
    }
    #[expect(clippy::cast_precision_loss, reason = "a few columns")]
    let free = ui.available_width() - BETWEEN * (n_columns as f32 - 1.0);
    // figures side by side are read well a little smaller, and smaller still before they are cut
    let sizes = [0.92, 0.85, 0.8].map(|part| (setting.size * part).max(11.0));
    let wants_at = |size: f32| -> Vec<[f32; 2]> {
        let setting = Setting { size, ..*setting };
        (0..n_columns)
            .map(|column| want(ui, rows, column, &setting))
            .collect()
    };
    let fits = |size: &f32| wants_at(*size).iter().map(|want| want[0]).sum::<f32>() <= free;
    let size = sizes.into_iter().find(fits).unwrap_or(sizes[2]);
    let setting = Setting { size, ..*setting };
    let wants = wants_at(size);
    let widths = widths(&wants, free);
    let whole: f32 = widths.iter().sum();
    #[expect(clippy::cast_precision_loss, reason = "a few columns")]
    let whole = whole + BETWEEN * (n_columns as f32 - 1.0);
    let id = ui.next_auto_id();
    if whole > ui.available_width() + 1.0 {
        let area = egui::ScrollArea::horizontal()
            .id_salt(id)
            .auto_shrink([false, true]);
        area.show(ui, |ui| rows_ui(ui, rows, &widths, whole, &setting, heard));
    } else {
        rows_ui(ui, rows, &widths, whole, &setting, heard);
    }
}

fn rows_ui(
    ui: &mut Ui,
    rows: &[Vec<Vec<Span>>],
    widths: &[f32],
    whole: f32,
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let line = style::colour(setting.theme.line);
    let soft = style::colour(setting.theme.ink_soft);
    let top = ui.cursor().min;
    let mut y = top.y;
    for (idx, row) in rows.iter().enumerate() {
        let mut x = top.x;
        let mut bottom = y;
        for (cell, width) in row.iter().zip(widths) {
            let place =
                Rect::from_min_size(pos2(x, y + style::gap(1.0)), vec2(*width, f32::INFINITY));
            let builder = egui::UiBuilder::new()
                .max_rect(place)
                .layout(Layout::top_down(Align::Min));
            let mut cell_ui = ui.new_child(builder);
            if !cell.is_empty() {
                let colour = (idx == 0).then_some(soft);
                let role = if idx == 0 {
                    Role::ColumnHeader
                } else {
                    Role::Cell
                };
                let shown = setting.set_ui(&mut cell_ui, cell, setting.size, colour, role, heard);
                bottom = bottom.max(shown.rect.bottom());
            }
            x += width + BETWEEN;
        }
        y = bottom + style::gap(1.0);
        let weight = if idx == 0 { 2.0 } else { 1.0 };
        if idx + 1 < rows.len() {
            ui.painter()
                .hline(top.x..=top.x + whole, y, Stroke::new(weight, line));
        }
    }
    let rect = Rect::from_min_max(top, pos2(top.x + whole, y));
    let response = ui.allocate_rect(rect, Sense::hover());
    let head: Vec<String> = rows
        .first()
        .map_or_else(Vec::new, |row| row.iter().map(|cell| plain(cell)).collect());
    let words = format!("Table: {}", head.join(", "));
    response.widget_info(|| WidgetInfo::labeled(Role::Table, true, &words));
}

/// Least and best width of a column: its longest word, and its longest cell on one line.
fn want(ui: &Ui, rows: &[Vec<Vec<Span>>], column: usize, setting: &Setting<'_>) -> [f32; 2] {
    let mut found = [0.0_f32; 2];
    for cell in rows.iter().filter_map(|row| row.get(column)) {
        let best = setting.galley(ui, cell, setting.size, f32::INFINITY, None);
        found[1] = found[1].max(best.rect.width());
        for span in cell {
            for word in span.words.split([' ', '\n']) {
                let word = [Span {
                    words: word.to_owned(),
                    ..span.clone()
                }];
                let galley = setting.galley(ui, &word, setting.size, f32::INFINITY, None);
                found[0] = found[0].max(galley.rect.width());
            }
        }
    }
    // a point for rounding, or the last letter would go on a line of its own
    found.map(|width| width.ceil() + 1.0)
}

/// Shares what is free: each column has its least, and the rest goes by what each still wants.
fn widths(wants: &[[f32; 2]], free: f32) -> Vec<f32> {
    let least: f32 = wants.iter().map(|want| want[0]).sum();
    let more: f32 = wants.iter().map(|want| want[1] - want[0]).sum();
    let share = if more > 0.0 {
        ((free - least) / more).clamp(0.0, 1.0)
    } else {
        0.0
    };
    wants
        .iter()
        .map(|want| want[0] + share * (want[1] - want[0]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::widths;

    #[test]
    fn columns_share_what_is_free() {
        let wants = [[10.0, 20.0], [10.0, 60.0]];
        assert_eq!(widths(&wants, 100.0), [20.0, 60.0]);
        assert_eq!(widths(&wants, 50.0), [15.0, 35.0]);
        assert_eq!(
            widths(&wants, 5.0),
            [10.0, 10.0],
            "never narrower than a word"
        );
    }
}
