//! The face for a projector: machine, legs and one plot, in type that reads from the back of a
//! room, and nothing else.

use egui::{Align2, Context, Rect, Ui, WidgetInfo};

use super::App;
use crate::app::outside;
use crate::app::style::{self, cut_bottom, cut_top};
use crate::scene::plots::Row;

/// What a presenter shows, in the order of the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pictures {
    /// Machine, legs and plot.
    All,
    /// The machine alone.
    Machine,
    /// The legs alone.
    Legs,
    /// The plot alone.
    Plot,
}

/// A presenter at work.
#[derive(Clone, Copy, Debug)]
pub(super) struct Presenter {
    pub(super) pictures: Pictures,
    /// The one row of waveforms; `None`: those that the room has.
    pub(super) row: Option<Row>,
    /// The thing of a talk that is shown.
    pub(super) talk: Option<usize>,
    /// Scale and screen to go back to.
    scale: f32,
    full: bool,
}

/// Height of the room of a presenter, in points: what fits is so large.
const HEIGHT: f32 = 600.0;
/// Scale of a presenter at least, as a part of the one before.
const LEAST: f32 = 1.25;
const MOST: f32 = 5.0;

impl App {
    /// Enters the face for a projector, or leaves it.
    pub(super) fn turn_presenter(&mut self, ctx: &Context) {
        if let Some(presenter) = self.presenter.take() {
            self.leave_talk();
            ctx.set_zoom_factor(presenter.scale);
            if !presenter.full {
                outside::fill_screen(ctx, false);
            }
            return;
        }
        let scale = ctx.zoom_factor();
        let full = outside::fills_screen(ctx);
        self.presenter = Some(Presenter {
            pictures: Pictures::All,
            row: self.plots.first_row(),
            talk: None,
            scale,
            full,
        });
        self.sheets.clear();
        outside::fill_screen(ctx, true);
    }

    /// Keeps the type as large as the screen lets it be.
    pub(super) fn fit_presenter(&self, ctx: &Context) {
        let Some(presenter) = &self.presenter else {
            return;
        };
        let now = ctx.zoom_factor();
        let height_now = ctx.content_rect().height();
        let unscaled = height_now * now / presenter.scale;
        let wanted = (presenter.scale * (unscaled / HEIGHT).max(LEAST)).min(MOST);
        if (wanted - now).abs() > 0.01 {
            ctx.set_zoom_factor(wanted);
        }
    }

    /// Shows the next of the pictures large.
    pub(super) const fn next_picture(&mut self) {
        if let Some(presenter) = &mut self.presenter {
            presenter.pictures = match presenter.pictures {
                Pictures::All => Pictures::Machine,
                Pictures::Machine => Pictures::Legs,
                Pictures::Legs => Pictures::Plot,
                Pictures::Plot => Pictures::All,
            };
        }
    }

    /// The one row of waveforms that a presenter shows.
    pub(super) fn presenter_row(&self) -> Option<Row> {
        let presenter = self.presenter.as_ref()?;
        // what a lesson points at goes first
        self.marked_row().or(presenter.row)
    }

    /// Shows the next row of waveforms alone; after the last one those that the room has.
    pub(super) fn next_row(&mut self) {
        if let Some(presenter) = &mut self.presenter {
            let next = presenter.row.map_or(0, |row| {
                let here = Row::ALL.iter().position(|known| *known == row);
                here.map_or(0, |here| here + 1)
            });
            presenter.row = Row::ALL.get(next).copied();
        }
    }

    /// Draws the whole window of a presenter.
    pub(super) fn presenter_ui(&mut self, ui: &mut Ui, all: Rect, pictures: Pictures) {
        let Some(frame) = self.frame() else { return };
        let gap = style::gap(2.0);
        let (rest, foot) = cut_bottom(all.shrink(gap), style::gap(11.0), gap);
        let split = rest.left() + rest.width() * 0.56;
        let left = Rect::from_min_max(rest.min, egui::pos2(split, rest.bottom()));
        let right = Rect::from_min_max(egui::pos2(split + gap, rest.top()), rest.max);
        let (legs, plot) = cut_top(right, right.width() * 0.5, gap);
        let panel = |ui: &Ui, rect: Rect| {
            let colour = style::colour(self.theme.panel);
            ui.painter().rect_filled(rect, style::gap(1.0), colour);
        };
        match pictures {
            Pictures::All => {
                panel(ui, legs);
                panel(ui, plot);
                self.machine_ui(ui, left, &frame);
                self.bridge_ui(ui, legs, &frame);
                self.plots_ui(ui, plot);
            }
            Pictures::Machine => self.machine_ui(ui, rest, &frame),
            Pictures::Legs => {
                panel(ui, rest);
                self.bridge_ui(ui, rest, &frame);
            }
            Pictures::Plot => {
                panel(ui, rest);
                self.plots_ui(ui, rest);
            }
        }
        self.presenter_foot_ui(ui, foot);
    }

    /// One line: the step, how fast time goes, and the way out.
    fn presenter_foot_ui(&self, ui: &Ui, rect: Rect) {
        let Some(now) = self.frame().map(|frame| frame.now) else {
            return;
        };
        let (ink, soft) = (
            style::colour(self.theme.ink),
            style::colour(self.theme.ink_soft),
        );
        let legs = now.legs.map(crate::drive::LegState::character);
        let step = format!(
            "Step {}   U {}  V {}  W {}",
            now.step, legs[0], legs[1], legs[2]
        );
        let pace = match (&self.hand, self.time.running) {
            (Some(_), _) => "turned by hand".to_owned(),
            (None, true) => self.time.pace_words(),
            (None, false) => format!("stands still · {}", self.time.pace_words()),
        };
        let painter = ui.painter();
        let middle = rect.center().y;
        let at = |x: f32| egui::pos2(x, middle);
        painter.text(
            at(rect.left()),
            Align2::LEFT_CENTER,
            &step,
            style::type_size(3),
            ink,
        );
        painter.text(
            at(rect.right()),
            Align2::RIGHT_CENTER,
            &pace,
            style::type_size(2),
            soft,
        );
        let response = ui.interact(rect, ui.scope_id().with("foot"), egui::Sense::hover());
        let words = format!("{step}, {pace}");
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, &words));
        response.on_hover_text(
            "R shows the next row of waveforms, N the next picture · Esc leaves this face · ? lists the keys",
        );
    }
}
