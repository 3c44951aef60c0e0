//! Six large figures over the latest whole turns, and the way to all of them and to where each
//! comes from.

use egui::{Align2, Rect, Sense, Ui, WidgetInfo};

use super::style;
use super::window::spot;
use crate::analysis::{Figure, Group, Value};
use crate::lesson::Sight;
use crate::scene::Theme;

/// The figures that stand large, with the names that they have before there is a value.
const LARGE: [(&str, &str); 6] = [
    ("mean_speed_rpm", "mean speed"),
    ("torque_mean_nm", "mean torque"),
    ("torque_ripple_pp_nm", "torque ripple, peak to peak"),
    ("supply_current_mean_a", "mean supply current"),
    ("supply_power_w", "supply power"),
    ("efficiency", "efficiency"),
];

/// Width of the place of "All figures", in points.
const ALL_WIDTH: f32 = 104.0;
/// Significant digits of a large figure, and on hover.
const DIGITS: [usize; 2] = [3, 7];

/// What a person asked of the figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// Where the figure with this key comes from.
    Why(&'static str),
    /// All of them.
    All,
}

/// Draws the large figures in one row of equal places.
pub(super) fn figures_ui(
    ui: &mut Ui,
    rect: Rect,
    figures: &[Figure],
    theme: &Theme,
) -> Option<Asked> {
    let mut asked = None;
    let (row, all) = (
        Rect::from_min_max(rect.min, rect.max - egui::vec2(ALL_WIDTH, 0.0)),
        Rect::from_min_max(rect.right_top() - egui::vec2(ALL_WIDTH, 0.0), rect.max),
    );
    let grid = Grid::of(row.size());
    let size = row.size() / egui::vec2(grid.n_columns as f32, grid.n_lines as f32);
    for (idx, (key, name)) in LARGE.into_iter().take(grid.n_shown()).enumerate() {
        let at = [idx % grid.n_columns, idx / grid.n_columns].map(|n| n as f32);
        let place = Rect::from_min_size(row.min + size * egui::vec2(at[0], at[1]), size);
        let figure = figures.iter().find(|figure| figure.key == key);
        spot(ui.ctx(), Sight::Figure(key.to_owned()), place);
        if figure_ui(ui, place, name, figure, theme) && figure.is_some() {
            asked = figure.map(|figure| Asked::Why(figure.key));
        }
    }
    let inside = all.shrink2(egui::vec2(style::gap(2.0), style::gap(2.0)));
    let builder = egui::UiBuilder::new()
        .max_rect(inside)
        .layout(egui::Layout::top_down(egui::Align::Max));
    ui.scope_builder(builder, |ui| {
        ui.spacing_mut().item_spacing.y = style::gap(1.0);
        ui.spacing_mut().button_padding.x = style::gap(2.0);
        let button = egui::Button::new("All figures");
        if ui
            .add(button)
            .on_hover_text("List every figure of the run · F")
            .clicked()
        {
            asked = Some(Asked::All);
        }
        let changing = changing(figures);
        let (words, hint) = match changing {
            Some(changing) => (changing.words().to_owned(), changing.hint()),
            None => (
                window_words(figures),
                "What the figures are the mean of".to_owned(),
            ),
        };
        let words = egui::RichText::new(words).small();
        let words = words.color(style::colour(theme.ink_soft));
        ui.add(egui::Label::new(words).truncate())
            .on_hover_text(hint);
    });
    asked
}

/// How the large figures stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Grid {
    n_columns: usize,
    n_lines: usize,
}

impl Grid {
    /// All in one line, each under its name; where that is too narrow, in two lines, each beside
    /// its name; where that is too narrow too, the first ones under their names.
    fn of(size: egui::Vec2) -> Self {
        let n_all = LARGE.len();
        let fits = |n: usize, least: f32| size.x >= least * n as f32;
        let n_lines = 2;
        if !fits(n_all, UNDER) && fits(n_all / n_lines, BESIDE) && size.y >= 2.0 * LINE {
            let n_columns = n_all / n_lines;
            return Self { n_columns, n_lines };
        }
        let n_columns = (1..=n_all).rev().find(|n| fits(*n, UNDER)).unwrap_or(1);
        Self {
            n_columns,
            n_lines: 1,
        }
    }

    const fn n_shown(self) -> usize {
        self.n_columns * self.n_lines
    }
}

/// Least width of a figure under its name, and beside it, in points.
const UNDER: f32 = 96.0;
const BESIDE: f32 = 124.0;
/// Least height of a figure beside its name; what is lower than twice that has one line.
const LINE: f32 = 22.0;

/// A window in which energy went into the rotor, or came out of it: not a steady state.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Changing {
    /// Power that is stored, in W; below 0 where it comes back.
    stored_w: f64,
}

/// Share of the power through the bench from which on what is stored is worth a word.
const STORED_SHARE: f64 = 0.05;

/// Whether the speed, and with it what the figures say, was still changing.
fn changing(figures: &[Figure]) -> Option<Changing> {
    let watts = |key: &str| {
        let figure = figures.iter().find(|figure| figure.key == key);
        figure.and_then(Figure::number)
    };
    let supply_w = watts("supply_power_w")?;
    let out_w = [
        "shaft_power_w",
        "copper_loss_w",
        "bridge_loss_w",
        "friction_loss_w",
    ]
    .into_iter()
    .map(watts)
    .sum::<Option<f64>>()?;
    let stored_w = supply_w - out_w;
    let large = stored_w.abs() > STORED_SHARE * supply_w.abs().max(out_w.abs());
    large.then_some(Changing { stored_w })
}

impl Changing {
    const fn words(self) -> &'static str {
        if self.stored_w > 0.0 {
            "speeding up"
        } else {
            "slowing down"
        }
    }

    fn hint(self) -> String {
        let watts = crate::analysis::shown(self.stored_w.abs(), crate::analysis::Unit::WATT, 3);
        if self.stored_w > 0.0 {
            format!(
                "Not steady yet: {watts} went into the turning mass, which the efficiency counts \
                 neither as work nor as loss"
            )
        } else {
            format!(
                "Not steady: {watts} came back out of the turning mass, which the efficiency \
                 does not count as taken in"
            )
        }
    }
}

/// Over what the figures were taken.
fn window_words(figures: &[Figure]) -> String {
    match figures.iter().find(|figure| figure.key == "window_kind") {
        Some(figure) => match &figure.value {
            Value::Words(words) => words.replace("mechanical turn", "turn"),
            _ => String::new(),
        },
        None => "no turn yet".to_owned(),
    }
}

/// One large figure. True where it was asked where it comes from.
fn figure_ui(
    ui: &mut Ui,
    place: Rect,
    name: &'static str,
    figure: Option<&Figure>,
    theme: &Theme,
) -> bool {
    let response = ui.interact(place, ui.scope_id().with(name), Sense::click());
    let shown = figure.map(|figure| figure.shown(DIGITS[0]));
    let (number, unit) = shown.map_or_else(
        || ("–".to_owned(), String::new()),
        |shown| (shown.number, shown.unit),
    );
    let painter = ui.painter().with_clip_rect(place);
    if response.hovered() || response.has_focus() {
        painter.rect_filled(place, style::gap(1.0), style::colour(theme.plate));
    }
    let (soft, ink) = (style::colour(theme.ink_soft), style::colour(theme.ink));
    if place.height() < 2.0 * LINE {
        let inside = place.shrink2(egui::vec2(style::gap(1.5), 0.0));
        let middle = inside.center().y;
        let words = shortest(name);
        let at = egui::pos2(inside.left(), middle);
        painter.text(at, Align2::LEFT_CENTER, words, style::type_size(0), soft);
        let value = format!("{number} {unit}");
        let at = egui::pos2(inside.right(), middle);
        let size = style::type_size(1);
        painter.text(at, Align2::RIGHT_CENTER, value.trim_end(), size, ink);
    } else {
        under_its_name(&painter, place, name, (&number, &unit), theme);
    }
    let words = format!("{name}: {number} {unit}");
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, words.trim_end()));
    let more = figure.map_or_else(
        || "Comes with the first turn".to_owned(),
        |figure| format!("{name}: {}\nClick for the formula", figure.shown(DIGITS[1])),
    );
    response.on_hover_text(more).clicked()
}

/// A number, large, with its unit, under its name.
fn under_its_name(
    painter: &egui::Painter,
    place: Rect,
    name: &'static str,
    (number, unit): (&str, &str),
    theme: &Theme,
) {
    let (soft, ink) = (style::colour(theme.ink_soft), style::colour(theme.ink));
    let rect = place.shrink2(egui::vec2(style::gap(2.0), style::gap(1.5)));
    let words = short(name, rect.width());
    painter.text(
        rect.left_top(),
        Align2::LEFT_TOP,
        words,
        style::type_size(0),
        soft,
    );
    // The number ends, and the unit begins, at a place of their own: neither moves the other.
    let large = rect.width() > 104.0;
    let size = style::type_size(if large { 3 } else { 2 });
    let reach: f32 = if large { 76.0 } else { 52.0 };
    let split = rect.left() + reach.min(rect.width() * 0.66);
    let base = rect.bottom() - style::gap(0.5);
    let at = egui::pos2(split, base);
    painter.text(at, Align2::RIGHT_BOTTOM, number, size, ink);
    let unit_at = egui::pos2(split + style::gap(1.0), base - style::gap(0.5));
    painter.text(
        unit_at,
        Align2::LEFT_BOTTOM,
        unit,
        style::type_size(1),
        soft,
    );
}

/// The name as it fits over its figure.
fn short(name: &'static str, width: f32) -> &'static str {
    match name {
        "torque ripple, peak to peak" if width < 152.0 => "ripple, p–p",
        "mean supply current" if width < 120.0 => "supply current",
        _ => name,
    }
}

/// The name as it fits beside its figure; whole on hover.
fn shortest(name: &'static str) -> &'static str {
    match name {
        "torque ripple, peak to peak" => "ripple",
        "mean speed" => "speed",
        "mean torque" => "torque",
        _ => short(name, 0.0),
    }
}

/// The list of all figures under their headings. The key of one that was asked about.
pub(super) fn all_ui(ui: &mut Ui, figures: &[Figure], theme: &Theme) -> Option<&'static str> {
    let mut asked = None;
    let columns = if ui.available_width() > 560.0 { 2 } else { 1 };
    let groups: Vec<Group> = Group::ALL.into();
    ui.columns(columns, |columns| {
        for (idx, group) in groups.into_iter().enumerate() {
            if !figures.iter().any(|figure| figure.group == group) {
                continue;
            }
            // Speed, torque and current to the left; power and the account to the right.
            let column = if columns.len() > 1 && idx > 2 { 1 } else { 0 };
            let ui = &mut columns[column];
            let heading = egui::RichText::new(group.heading()).strong();
            ui.label(heading.color(style::colour(theme.ink)));
            for figure in figures.iter().filter(|figure| figure.group == group) {
                if row_ui(ui, figure, theme) {
                    asked = Some(figure.key);
                }
            }
            ui.add_space(style::gap(2.0));
        }
    });
    asked
}

/// One line of the list.
fn row_ui(ui: &mut Ui, figure: &Figure, theme: &Theme) -> bool {
    let shown = figure.shown(crate::analysis::TABLE_DIGITS);
    let size = egui::vec2(ui.available_width(), style::gap(6.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let (soft, ink) = (style::colour(theme.ink_soft), style::colour(theme.ink));
    let painter = ui.painter().with_clip_rect(rect);
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, style::gap(1.0), style::colour(theme.plate));
    }
    let inside = rect.shrink2(egui::vec2(style::gap(2.0), 0.0));
    let font = style::type_size(1);
    painter.text(
        inside.left_center(),
        Align2::LEFT_CENTER,
        figure.name,
        font.clone(),
        soft,
    );
    let unit_w = if shown.unit.is_empty() { 0.0 } else { 40.0 };
    let split = inside.right() - unit_w;
    let at = egui::pos2(split, inside.center().y);
    painter.text(at, Align2::RIGHT_CENTER, &shown.number, font.clone(), ink);
    let at = at + egui::vec2(style::gap(1.0), 0.0);
    painter.text(at, Align2::LEFT_CENTER, &shown.unit, font, soft);
    let words = format!("{}: {shown}", figure.name);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &words));
    response
        .on_hover_text(format!("{words}\nClick for the formula"))
        .clicked()
}

/// Where a figure comes from: the lines that the terminal prints for `--why`.
pub(super) fn why_ui(ui: &mut Ui, figure: &Figure, theme: &Theme) {
    let (soft, ink) = (style::colour(theme.ink_soft), style::colour(theme.ink));
    let value = figure.shown(5);
    let number = egui::RichText::new(value.to_string()).font(style::type_size(3));
    ui.label(number.color(ink));
    ui.add_space(style::gap(1.0));
    egui::Grid::new("why")
        .num_columns(2)
        .spacing(egui::vec2(style::gap(4.0), style::gap(1.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.0);
            for line in figure.why().lines().skip(1) {
                let (label, content) = why_line(line);
                let label_text = egui::RichText::new(label).color(soft);
                ui.add(egui::Label::new(label_text).extend());
                let content = match label {
                    "note" | "source" | "because" => egui::RichText::new(content),
                    _ => egui::RichText::new(content).font(style::mono(1)),
                };
                ui.add(egui::Label::new(content.color(ink)).wrap());
                ui.end_row();
            }
        });
}

/// A line of an explanation as its label and its content. A line without a label goes on with
/// the one before.
fn why_line(line: &str) -> (&str, &str) {
    const LABEL: usize = 8;
    let line = line.strip_prefix("  ").unwrap_or(line);
    match line.split_at_checked(LABEL) {
        Some((label, content)) => (label.trim_end(), content.trim_start()),
        None => (line, ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn powers(supply_w: f64, shaft_w: f64) -> Vec<Figure> {
        let text = crate::setup::built_in();
        let setup = crate::setup::Setup::parse(text, "built in").unwrap();
        let mut live = crate::app::Live::new(&setup);
        live.slice(0.01);
        let mut figures = live.figures(0.01, 1.0).unwrap();
        for figure in &mut figures {
            let value = match figure.key {
                "supply_power_w" => supply_w,
                "shaft_power_w" => shaft_w,
                "copper_loss_w" => 2.0,
                "bridge_loss_w" | "friction_loss_w" => 1.0,
                _ => continue,
            };
            figure.value = Value::Number(value);
        }
        figures
    }

    #[test]
    fn figures_stand_as_there_is_room() {
        let grid = |width: f32, height: f32| {
            let Grid { n_columns, n_lines } = Grid::of(egui::vec2(width, height));
            (n_columns, n_lines)
        };
        assert_eq!(grid(600.0, 64.0), (6, 1));
        // beside a lesson at 1280 points
        assert_eq!(grid(390.0, 64.0), (3, 2));
        assert_eq!(grid(390.0, 40.0), (4, 1));
        assert_eq!(grid(200.0, 64.0), (2, 1));
        assert_eq!(grid(20.0, 64.0), (1, 1));
    }

    #[test]
    fn a_rotor_that_speeds_up_is_told() {
        assert_eq!(changing(&powers(20.0, 16.1)), None);
        let faster = changing(&powers(20.0, 6.0)).unwrap();
        assert_eq!(faster.words(), "speeding up");
        assert!(faster.hint().contains("10.0 W"), "{}", faster.hint());
        let slower = changing(&powers(1.0, 8.0)).unwrap();
        assert_eq!(slower.words(), "slowing down");
        assert_eq!(changing(&[]), None);
    }

    #[test]
    fn a_line_parts_into_label_and_content() {
        assert_eq!(why_line("  put in   n = 3 W"), ("put in", "n = 3 W"));
        assert_eq!(
            why_line("           P = 3 W  power"),
            ("", "P = 3 W  power")
        );
        assert_eq!(why_line("  key      efficiency"), ("key", "efficiency"));
    }
}
