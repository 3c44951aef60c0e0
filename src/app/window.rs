//! The room: where everything stands, and the order in which a frame is made.

mod address;
mod bench;
mod column;
mod dialogs;
mod hand;
mod hints;
mod lesson;
mod machine;
mod menus;
mod pages;
mod papers;
mod partlist;
mod picker;
mod places;
mod presenter;
mod sheets;
mod sights;
mod talk;
mod told;

use egui::{Rect, RichText, Sense, Ui, pos2, vec2};

use super::ahead::Ahead;
use super::course::Course;
use super::drawer::Drawer;
use super::hand::Hand;
use super::live::LEAST_FULL_A;
use super::parts::Pointed;
use super::picture::{Zoom, install};
use super::plots_panel::{PlotsPanel, Showing};
use super::style::cut_bottom;
use super::{Frame, Live, Shown, Standing, TimeControl, figures, rail, style};
use crate::analysis::Figure;
use crate::lesson::{Panel, Sight};
use crate::record::Tape;
use crate::scene::Theme;
use crate::scene::bridge::{Flows, Travel};
use crate::setup::Setup;
use bench::Worst;
use places::Room;
pub(super) use sights::spot;
pub use told::Telling;

/// How far beyond the record's end a step looks first, in s of the motor.
const FIRST_AHEAD_S: f64 = 5e-5;
/// Most moments of a frame whose currents move the marks.
const MOST_MARK_STEPS: usize = 200;
/// Slices of the run that one step on may wait for, where it leads beyond the record.
const MOST_SLICES: u32 = 25;
/// Seconds of the show that the figures are the mean of, at least.
const FIGURES_SHOW_S: f64 = 1.0;
/// How far a mark runs along a path in a second of the show at the full current, in bench units.
const MARK_SPEED: f64 = 0.6;
/// Width of the drawer, in points.
const DRAWER: f32 = 352.0;
/// Narrower than this, in points, the columns stack.
const NARROW: f32 = 820.0;
/// Width of the column of a lesson: its part of the window, and least and most in points.
const COLUMN_SHARE: f32 = 0.3;
const COLUMN: [f32; 2] = [416.0, 520.0];
/// From this width, in points, the drawer stands open from the start: the machine keeps its dial
/// and its table beside it.
const ROOMY: f32 = 1500.0;

/// The window's state: what is shown, the run, and how a person looks at it.
#[derive(Debug)]
pub struct App {
    bench: Standing,
    drawer: Drawer,
    /// What a person asked for; `None`: open where the window is roomy.
    drawer_open: Option<bool>,
    /// What the run has taken up.
    taken: Setup,
    shown: Shown,
    live: Ahead<Live>,
    time: TimeControl,
    theme: Theme,
    zoom: Zoom,
    plots: PlotsPanel,
    travel: Travel,
    /// The figures of the latest whole turns before the cursor.
    figures: Vec<Figure>,
    /// Sheets over the room, the topmost last.
    sheets: Vec<sheets::Sheet>,
    /// The scale that the window chose by itself.
    own_scale: f32,
    /// The face for a projector; `None`: the whole room.
    presenter: Option<presenter::Presenter>,
    /// A page in the place of the room.
    page: Option<pages::Page>,
    /// The predictions, once they were opened.
    prediction: Option<Box<super::prediction::Predicting>>,
    /// The readings, once they were opened.
    checking: Option<Box<super::checking::Checking>>,
    /// The choice of parts, once it was opened.
    choosing: Option<Box<super::choosing::Choosing>>,
    /// The captures, once they were opened.
    capturing: Option<Box<super::capturing::Capturing>>,
    /// A layout that was begun and left.
    left_draft: Option<Box<super::by_hand::ByHand>>,
    /// The rotor in a hand; `None`: the drive turns it.
    hand: Option<Hand>,
    /// The part under the pointer, and the one that the list points at.
    hovered: Option<Pointed>,
    listed: Option<Pointed>,
    /// The worst of the run since the bench was last changed.
    worst: Worst,
    /// Height of the cautions, in points.
    cautions_h: f32,
    /// True for the first frame of a sheet.
    fresh_sheet: bool,
    /// The setup as a file.
    papers: papers::Papers,
    /// The page's address, in a browser.
    linked: address::Linked,
    /// What somebody outside is told, and who.
    told: told::Told,
    /// The course, and the lesson that is open.
    course: Course,
    /// The person's own bench while a lesson's setup stands in its place.
    aside: Option<lesson::Aside>,
    /// The lesson's bench with its changes while the person's own stands there.
    lesson_bench: Option<Standing>,
    /// What stood on the bench last, as the lesson of that folder saw it.
    stood: Option<(Setup, String, lesson::Stands)>,
    /// The largest lead current of late, in A: full size of symbols and paths.
    full_current_a: f64,
}

impl App {
    /// Makes the window's state and, where there is a graphics device, its painters.
    #[must_use]
    pub fn new(creation: &eframe::CreationContext<'_>, shown: Shown, setup: Setup) -> Self {
        if let Some(render_state) = &creation.wgpu_render_state {
            install(render_state);
        }
        let theme = Theme::DARK;
        style::fonts(&creation.egui_ctx);
        style::apply(&creation.egui_ctx, &theme);
        Self {
            live: Ahead::new(Live::new(&setup)),
            papers: papers::Papers::new(&setup),
            taken: setup.clone(),
            bench: Standing::new(setup),
            drawer: Drawer::default(),
            drawer_open: None,
            shown,
            time: TimeControl::default(),
            theme,
            zoom: Zoom::default(),
            plots: PlotsPanel::default(),
            travel: Travel::default(),
            figures: Vec::new(),
            sheets: Vec::new(),
            own_scale: 1.0,
            presenter: None,
            page: None,
            prediction: None,
            checking: None,
            choosing: None,
            capturing: None,
            left_draft: None,
            hand: None,
            hovered: None,
            listed: None,
            worst: Worst::default(),
            cautions_h: 0.0,
            fresh_sheet: false,
            linked: address::Linked::default(),
            told: told::Told::default(),
            course: Course::default(),
            aside: None,
            lesson_bench: None,
            stood: None,
            full_current_a: LEAST_FULL_A,
        }
    }

    /// Lets the show run.
    pub const fn run(&mut self) {
        self.time.running = true;
    }

    /// The time control.
    #[must_use]
    pub const fn time(&self) -> &TimeControl {
        &self.time
    }

    /// The time control, to be set from outside.
    pub const fn time_mut(&mut self) -> &mut TimeControl {
        &mut self.time
    }

    /// What is shown at the cursor; `None` while nothing is on record.
    #[must_use]
    pub fn frame(&self) -> Option<Frame> {
        let (record, now_s) = self.shown_record();
        Some(Frame {
            now: record.at(now_s)?,
            recorded_s: record.range_s()?,
        })
    }

    /// The record that is shown, and now on it: of the run, or of the hand.
    fn shown_record(&self) -> (&Tape, f64) {
        self.hand.as_ref().map_or_else(
            || (self.live.record(), self.time.cursor_s),
            |hand| (hand.record(), hand.time_s()),
        )
    }

    /// Pauses and moves by one stride: through what is on record, and on beyond its end by
    /// letting the run go on that far.
    fn step(&mut self, later: bool) {
        self.time.running = false;
        let mut ahead_s = FIRST_AHEAD_S;
        for _ in 0..MOST_SLICES {
            if self.time.step(self.live.record(), later) || !later {
                return;
            }
            let Some([_, end_s]) = self.live.record().range_s() else {
                return;
            };
            // Not far beyond what is looked for.
            self.live.slice(end_s + ahead_s);
            ahead_s *= 2.0;
            if self.live.stopped().is_some() {
                return;
            }
        }
    }

    /// Lets the run and the show go on by `wall_s`.
    fn advance(&mut self, wall_s: f64) {
        if !self.time.running {
            return;
        }
        let before_s = self.time.cursor_s;
        self.live.slice(self.time.ahead_s(wall_s));
        let more_to_come = self.live.stopped().is_none();
        self.time.advance(wall_s, self.live.record(), more_to_come);
        let tape = self.live.record();
        let (from, to) = (tape.mark(before_s), tape.mark(self.time.cursor_s));
        let (full_a, pace) = (self.full_current_a, self.time.pace());
        self.full_current_a = self
            .live
            .full_current_a(full_a, self.time.cursor_s, pace, wall_s);
        // The marks run with the current of each moment; of a frame with very many, with some.
        let n_steps = (to.n_before - from.n_before.min(to.n_before)).clamp(1, MOST_MARK_STEPS);
        #[expect(clippy::cast_precision_loss, reason = "some hundreds")]
        let step_s = (self.time.cursor_s - before_s) / n_steps as f64;
        let per_coulomb = MARK_SPEED / (self.full_current_a * self.time.pace());
        for k in 0..n_steps {
            #[expect(clippy::cast_precision_loss, reason = "some hundreds")]
            let middle_s = before_s + (k as f64 + 0.5) * step_s;
            if let Some(sample) = self.live.record().at(middle_s) {
                self.worst.see(&sample);
                let flows = self.flows(&sample);
                self.travel.advance(&flows, step_s * per_coulomb);
            }
        }
    }

    /// Lets the run go on to where the next frame will want it, while this one is drawn.
    fn run_ahead(&mut self, wall_s: f64) {
        let time_s = self.time.ahead_s(wall_s);
        self.live.work(move |live| live.slice(time_s));
    }

    fn flows(&self, sample: &crate::record::Sample) -> Flows {
        let source_a = self
            .shown
            .source_ohm
            .map(|ohm| (self.shown.source_v - sample.supply_voltage_v) / ohm);
        Flows::new(sample.legs, sample.line_current_a, source_a)
    }

    /// Lets the run go on with what now stands on the bench, from the end of the record.
    fn take_up_bench(&mut self) {
        let setup = self.bench.setup();
        // The checks of a setup include the winding; were it refused, the old picture would stay.
        if let Ok(shown) = Shown::new(setup) {
            let other = *setup != self.taken;
            if other {
                self.live.change(setup, setup.machine != self.taken.machine);
                self.taken = setup.clone();
                self.shown = shown;
                self.worst = Worst::default();
                self.listed = None;
                self.rehand();
            }
            if let Some([_, end_s]) = self.live.record().range_s() {
                self.time.cursor_s = end_s;
            }
            // What flows and turns now goes on flowing and turning.
            if let Some(now) = self.live.record().at(self.time.cursor_s) {
                self.worst.see(&now);
            }
        }
    }

    fn figures_ui(&mut self, ui: &mut Ui, rect: Rect) {
        // A second of the show is calm enough to read; one turn is the least that is steady.
        let wish_s = self.time.pace() * FIGURES_SHOW_S;
        let figures = self.live.figures(self.time.cursor_s, wish_s);
        self.figures = figures.unwrap_or_default();
        match figures::figures_ui(ui, rect, &self.figures, &self.theme) {
            Some(figures::Asked::Why(key)) => self.lay(sheets::Sheet::Why(key)),
            Some(figures::Asked::All) => self.lay(sheets::Sheet::Figures),
            None => {}
        }
    }

    fn plots_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let (tape, now_s, pace) = match &self.hand {
            // a hand turns in life's own time
            Some(hand) => (hand.record(), hand.time_s(), 1.0),
            None => (self.live.record(), self.time.cursor_s, self.time.pace()),
        };
        let showing = Showing {
            tape,
            now_s,
            pace,
            bare: self.presenter.is_some(),
            only: self.presenter_row(),
            marked: self.marked_row(),
            lit: self.lit_curve(),
            beside: None,
        };
        self.plots.ui(ui, rect, &showing, &self.theme);
    }
}

/// A caution over the foot of a panel: its sign, and words.
fn caution_ui(ui: &mut Ui, rect: Rect, words: &str, theme: &Theme) {
    let inside = rect.shrink(style::gap(3.0));
    let (_, place) = cut_bottom(inside, style::gap(14.0), 0.0);
    let colour = style::colour(theme.caution);
    let middle = pos2(place.left() + style::gap(3.0), place.center().y);
    let size = style::gap(2.5);
    let corners = vec![
        middle + vec2(0.0, -size),
        middle + vec2(size, size),
        middle + vec2(-size, size),
    ];
    let ground = style::colour(theme.ground);
    ui.painter()
        .rect_filled(place, style::gap(1.0), style::colour(theme.panel));
    ui.painter().add(egui::Shape::convex_polygon(
        corners,
        colour,
        egui::Stroke::NONE,
    ));
    let sign_at = middle + vec2(0.0, style::gap(0.5));
    ui.painter().text(
        sign_at,
        egui::Align2::CENTER_CENTER,
        "!",
        style::type_size(1),
        ground,
    );
    let words_at = Rect::from_min_max(pos2(middle.x + style::gap(5.0), place.top()), place.max);
    ui.put(
        words_at,
        egui::Label::new(RichText::new(words).color(colour)).wrap(),
    );
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        let wall_s = ui.input(|input| f64::from(input.stable_dt)).min(0.1);
        Self::clear_spots(ui.ctx());
        self.papers(ui.ctx());
        self.hear_address(ui.ctx());
        self.make_runs(ui.ctx());
        if self.page.is_none() {
            self.advance(wall_s);
        }
        self.page_keys(ui);
        self.keys(ui);
        self.advance_hand(ui.ctx(), wall_s);
        if self.hand.is_none()
            && self.page.is_none()
            && !self.in_dialog()
            && !self.talk_keys(ui)
            && let Some(later) = rail::keys(ui, &mut self.time)
        {
            self.step(later);
        }
        self.fit_presenter(ui.ctx());
        let whole = ui.max_rect();
        let ground = style::colour(self.theme.ground);
        ui.painter().rect_filled(whole, 0.0, ground);
        let places = match self.presenter {
            _ if self.page.is_some() => {
                self.page_ui(ui, whole, wall_s);
                [whole.shrink(style::gap(8.0)); 2]
            }
            Some(presenter) => {
                if presenter.talk.is_some() {
                    self.talk_ui(ui, whole);
                } else {
                    self.presenter_ui(ui, whole, presenter.pictures);
                }
                [whole.shrink(style::gap(8.0)); 2]
            }
            None => self.room_ui(ui, whole),
        };
        self.sheets_ui(ui, places);
        self.held_file_ui(ui, whole);
        self.scale(ui.ctx());
        let runs = self.time.running && self.page.is_none();
        if runs {
            ui.ctx().request_repaint();
        }
        ui.allocate_rect(whole, Sense::hover());
        self.lead_address(ui.ctx());
        self.tell_outside(ui.ctx());
        if runs {
            self.run_ahead(wall_s);
        }
    }
}

impl App {
    /// Draws the whole room. Where sheets lie: on the machine, and on the waveforms.
    fn room_ui(&mut self, ui: &mut Ui, whole: Rect) -> [Rect; 2] {
        let all = if let Some(words) = self.hint(whole) {
            let (all, hint) = cut_bottom(whole, style::gap(7.0), 0.0);
            self.hint_ui(ui, hint.shrink2(vec2(style::gap(3.0), 0.0)), words);
            all
        } else {
            whole
        };
        // The lesson lies beside the room where there is place, and over it where there is not.
        let column_w = (all.width() * COLUMN_SHARE)
            .clamp(COLUMN[0], COLUMN[1])
            .min(all.width());
        let column = Rect::from_min_max(all.min, pos2(all.left() + column_w, all.bottom()))
            .shrink2(vec2(style::gap(2.0), style::gap(2.0)));
        let all = if self.course.open && all.width() - column_w >= NARROW {
            Rect::from_min_max(
                pos2(all.left() + column_w - style::gap(2.0), all.top()),
                all.max,
            )
        } else {
            all
        };
        // So does the drawer.
        let drawer_w = DRAWER.min(all.width());
        let place = all.width() - drawer_w >= NARROW;
        let drawer_open = self.drawer_open.unwrap_or(all.width() >= ROOMY);
        let beside = drawer_open && place;
        let drawer = Rect::from_min_max(
            pos2(all.right() - drawer_w, all.top() + style::gap(10.0)),
            all.max,
        )
        .shrink2(vec2(style::gap(2.0), style::gap(2.0)));
        let all = if beside {
            Rect::from_min_max(all.min, pos2(all.right() - drawer_w, all.bottom()))
        } else {
            all
        };
        let room = Room::new(all);
        let title = Rect::from_min_max(
            room.title.min,
            pos2(whole.right() - style::gap(2.0), room.title.bottom()),
        );
        self.title_ui(ui, title);
        for panel in [room.figures, room.bridge, room.plots, room.rail] {
            ui.painter()
                .rect_filled(panel, style::gap(1.0), style::colour(self.theme.panel));
        }
        for (panel, rect) in [
            (Panel::Machine, room.machine),
            (Panel::Figures, room.figures),
            (Panel::Bridge, room.bridge),
            (Panel::Waveforms, room.plots),
            (Panel::Time, room.rail),
        ] {
            sights::spot(ui.ctx(), Sight::Panel(panel), rect);
        }
        match self.frame() {
            Some(frame) => {
                self.machine_ui(ui, room.machine, &frame);
                if self.hand.is_some() {
                    self.hand_figures_ui(ui, room.figures);
                } else {
                    self.figures_ui(ui, room.figures);
                }
                self.bridge_ui(ui, room.bridge, &frame);
                self.plots_ui(ui, room.plots);
            }
            None => {
                let words = self.live.stopped().unwrap_or("Nothing is on record yet");
                ui.put(room.machine, egui::Label::new(words));
            }
        }
        let inside = room.rail.shrink2(vec2(style::gap(3.0), style::gap(2.0)));
        if self.hand.is_some() {
            self.hand_rail_ui(ui, inside);
        } else {
            let before = self.time;
            let step = rail::rail_ui(ui, inside, &mut self.time, self.live.record(), &self.theme);
            if let Some(later) = step {
                self.step(later);
            }
            // The rail comes last: what was drawn above it shows the time before.
            if self.time != before {
                ui.ctx().request_repaint();
            }
        }
        if drawer_open {
            self.drawer_ui(ui, drawer);
        }
        self.sight_ui(ui);
        if self.course.open {
            self.course_ui(ui, column);
        }
        [room.machine, room.plots]
    }
}
