//! Pages that take the place of the room: the winding by hand, two machines side by side, what a
//! build will do, which parts would do, what readings tell, and what a capture shows.

use egui::{Context, Rect, Ui};

use super::App;
use super::picker::Picker;
use crate::app::beside::{self, Beside};
use crate::app::by_hand::{self, ByHand};
use crate::app::capturing::{self, Capturing};
use crate::app::checking::{self, Checking};
use crate::app::choosing::{self, Choosing};
use crate::app::outside::Brought;
use crate::app::prediction::{self, Predicting};
use crate::app::{rail, shelf};
use crate::machine::inside::winding_of;
use crate::setup::Setup;

/// A page in the place of the room. The run on the bench waits while it is open.
#[derive(Debug)]
pub(super) enum Page {
    /// The layout, coil side by coil side.
    Winding(Box<ByHand>),
    /// Another machine beside the one on the bench.
    Beside(Box<Beside>),
    /// What a build will do, from its labels.
    Prediction,
    /// Which parts would do.
    Choosing,
    /// What motor readings tell of.
    Readings,
    /// What a capture shows.
    Capture,
}

impl App {
    /// Opens the layout of the bench, or leaves it.
    pub(super) fn turn_winding(&mut self) {
        if matches!(self.page, Some(Page::Winding(_))) {
            return self.leave_winding();
        }
        let Some(winding) = winding_of(&self.bench.setup().machine) else {
            return;
        };
        // What was begun and left waits, as long as the bench is still the one it was begun on.
        let begun = self.left_draft.take().filter(|page| page.is_of(&winding));
        let page = begun.unwrap_or_else(|| Box::new(ByHand::new(winding)));
        self.page = Some(Page::Winding(page));
        self.sheets.clear();
        self.leave_hand();
    }

    /// Sets another machine beside the one on the bench, or leaves that.
    pub(super) fn turn_beside(&mut self) {
        self.page = match self.page.take() {
            Some(Page::Beside(_)) => None,
            _ => Beside::new(self.bench.setup(), &self.time)
                .map(|beside| Page::Beside(Box::new(beside))),
        };
        self.sheets.clear();
        self.leave_hand();
    }

    /// Leaves the layout; changes that were not wound wait for the next time.
    fn leave_winding(&mut self) {
        if let Some(Page::Winding(page)) = self.page.take() {
            self.left_draft = Some(page).filter(|page| page.is_changed());
        }
    }

    /// What the open page is called, and whether it has work under way.
    pub(super) fn page_now(&self) -> Option<(&'static str, bool)> {
        let of = |name, busy: Option<bool>| Some((name, busy.unwrap_or(false)));
        match self.page.as_ref()? {
            Page::Winding(_) => of("winding", None),
            Page::Beside(_) => of("beside", None),
            Page::Prediction => of(
                "prediction",
                self.prediction.as_ref().map(|page| page.is_busy()),
            ),
            Page::Readings => of(
                "readings",
                self.checking.as_ref().map(|page| page.is_busy()),
            ),
            Page::Choosing => of("choice", self.choosing.as_ref().map(|page| page.is_busy())),
            Page::Capture => of(
                "capture",
                self.capturing.as_ref().map(|page| page.is_busy()),
            ),
        }
    }

    /// Leaves whatever page is open. False where none is.
    pub(super) fn leave_page(&mut self) -> bool {
        let open = self.page.is_some();
        let formula = match self.page {
            Some(Page::Prediction) => self.prediction.as_mut().is_some_and(|page| page.take_why()),
            Some(Page::Readings) => self.checking.as_mut().is_some_and(|page| page.take_why()),
            Some(Page::Choosing) => self.choosing.as_mut().is_some_and(|page| page.take_why()),
            Some(Page::Capture) => self.capturing.as_mut().is_some_and(|page| page.take_why()),
            _ => false,
        };
        match self.page {
            // A formula that is open goes first.
            _ if formula => {}
            Some(Page::Winding(_)) => self.leave_winding(),
            _ => self.page = None,
        }
        open
    }

    /// Opens the predictions, as they were left, or leaves them.
    pub(super) fn turn_prediction(&mut self) {
        self.page = match self.page.take() {
            Some(Page::Prediction) => None,
            _ => {
                self.prediction
                    .get_or_insert_with(|| Box::new(Predicting::new()));
                Some(Page::Prediction)
            }
        };
        self.sheets.clear();
        self.leave_hand();
    }

    /// Opens the readings, as they were left, or leaves them.
    pub(super) fn turn_readings(&mut self) {
        self.page = match self.page.take() {
            Some(Page::Readings) => None,
            _ => {
                self.checking
                    .get_or_insert_with(|| Box::new(Checking::new()));
                Some(Page::Readings)
            }
        };
        self.sheets.clear();
        self.leave_hand();
    }

    /// Opens the choice of parts, as it was left, or leaves it.
    pub(super) fn turn_choosing(&mut self) {
        self.page = match self.page.take() {
            Some(Page::Choosing) => None,
            _ => {
                self.choosing
                    .get_or_insert_with(|| Box::new(Choosing::new()));
                Some(Page::Choosing)
            }
        };
        self.sheets.clear();
        self.leave_hand();
    }

    /// Opens the captures, as they were left, or leaves them.
    pub(super) fn turn_capturing(&mut self, ctx: &Context) {
        self.page = match self.page.take() {
            Some(Page::Capture) => None,
            _ => {
                self.capturing
                    .get_or_insert_with(|| Box::new(Capturing::new(ctx)));
                Some(Page::Capture)
            }
        };
        self.sheets.clear();
        self.leave_hand();
    }

    /// Whether a file that is dropped or picked is for the page that is open.
    pub(super) fn page_takes_files(&self) -> bool {
        matches!(self.page, Some(Page::Choosing | Page::Capture))
    }

    /// Hands what a dialog or a drop brought to the page that is open.
    pub(super) fn hand_to_page(&mut self, brought: Brought, ctx: &Context) {
        let most = match self.page {
            Some(Page::Choosing) => Choosing::MOST_BYTES,
            Some(Page::Capture) => Capturing::MOST_BYTES,
            _ => return,
        };
        let read = match brought {
            Brought::Path(path) => {
                shelf::bytes(&path, most).map(|bytes| (shelf::name_of(&path), bytes))
            }
            Brought::Bytes(name, bytes) if bytes.len() <= most => Ok((name, bytes)),
            Brought::Bytes(name, bytes) => {
                let n_bytes = bytes.len();
                Err(format!("{name} has {n_bytes} bytes; {most} are the most."))
            }
            Brought::Unread(_, words) => Err(words),
        };
        match (self.page.as_ref(), read) {
            (Some(Page::Choosing), read) => {
                if let Some(page) = &mut self.choosing {
                    match read {
                        Ok((name, bytes)) => page.take(&name, &bytes),
                        Err(words) => page.refuse(words),
                    }
                }
            }
            (Some(Page::Capture), read) => {
                if let Some(page) = &mut self.capturing {
                    match read {
                        Ok((name, bytes)) => page.take(&name, bytes, ctx),
                        Err(words) => page.refuse(words),
                    }
                }
            }
            _ => {}
        }
    }

    /// Asks the system's dialog for a file of the page that is open.
    fn pick_for_page(&mut self, ctx: &Context) {
        let folder = self.papers.folder();
        self.papers.picker = Some(Picker::of_table(&folder, ctx));
    }

    fn leave_hand(&mut self) {
        if self.page.is_some() {
            self.hand = None;
        }
    }

    /// Lets the page hear its keys before the room does.
    pub(super) fn page_keys(&mut self, ui: &Ui) {
        if self.in_dialog() || !self.sheets.is_empty() {
            return;
        }
        match &mut self.page {
            Some(Page::Winding(page)) => {
                let wish = page.keys(ui);
                self.grant_winding(wish);
            }
            Some(Page::Beside(page)) => {
                if let Some(later) = rail::keys(ui, page.time_mut()) {
                    page.step(later);
                }
            }
            Some(Page::Prediction | Page::Readings | Page::Choosing | Page::Capture) | None => {}
        }
    }

    /// Draws the page.
    pub(super) fn page_ui(&mut self, ui: &mut Ui, whole: Rect, wall_s: f64) {
        let theme = self.theme;
        match &mut self.page {
            Some(Page::Winding(page)) => {
                let wish = page.ui(ui, whole, &self.shown, &theme);
                self.grant_winding(wish);
            }
            Some(Page::Beside(page)) => {
                page.advance(wall_s);
                let wish = page.ui(ui, whole, &theme);
                if page.is_moving() {
                    ui.ctx().request_repaint();
                }
                match wish {
                    Some(beside::Wish::Leave) => self.page = None,
                    Some(beside::Wish::Put(setup)) => self.put_and_leave(*setup),
                    None => {}
                }
            }
            Some(Page::Prediction) => {
                let page = self
                    .prediction
                    .get_or_insert_with(|| Box::new(Predicting::new()));
                match page.ui(ui, whole, &theme) {
                    Some(prediction::Wish::Leave) => self.page = None,
                    Some(prediction::Wish::Bench(setup)) => self.put_and_leave(*setup),
                    None => {}
                }
            }
            Some(Page::Readings) => {
                let page = self
                    .checking
                    .get_or_insert_with(|| Box::new(Checking::new()));
                match page.ui(ui, whole, &theme) {
                    Some(checking::Wish::Leave) => self.page = None,
                    Some(checking::Wish::Bench(setup)) => self.put_and_leave(*setup),
                    None => {}
                }
            }
            Some(Page::Choosing) => {
                let page = self
                    .choosing
                    .get_or_insert_with(|| Box::new(Choosing::new()));
                match page.ui(ui, whole, &theme) {
                    Some(choosing::Wish::Leave) => self.page = None,
                    Some(choosing::Wish::Bench(setup)) => self.put_and_leave(*setup),
                    Some(choosing::Wish::Predict(text)) => {
                        self.prediction = Some(Box::new(Predicting::with(&text)));
                        self.page = Some(Page::Prediction);
                    }
                    Some(choosing::Wish::Read(path)) => {
                        self.hand_to_page(Brought::Path(path), ui.ctx());
                    }
                    Some(choosing::Wish::Pick) => self.pick_for_page(ui.ctx()),
                    None => {}
                }
            }
            Some(Page::Capture) => {
                let page = self
                    .capturing
                    .get_or_insert_with(|| Box::new(Capturing::new(ui.ctx())));
                match page.ui(ui, whole, self.bench.setup(), &theme) {
                    Some(capturing::Wish::Leave) => self.page = None,
                    Some(capturing::Wish::Read(path)) => {
                        self.hand_to_page(Brought::Path(path), ui.ctx());
                    }
                    Some(capturing::Wish::Pick) => self.pick_for_page(ui.ctx()),
                    None => {}
                }
            }
            None => {}
        }
    }

    /// Puts a setup on the bench and goes back to it.
    fn put_and_leave(&mut self, setup: Setup) {
        self.page = None;
        if self.bench.put(setup) {
            self.drawer.forget();
            self.take_up_bench();
        }
    }

    fn grant_winding(&mut self, wish: Option<by_hand::Wish>) {
        match wish {
            Some(by_hand::Wish::Leave) => self.leave_winding(),
            Some(by_hand::Wish::Wind(winding)) => match self.bench.wind(&winding) {
                Ok(changed) => {
                    self.page = None;
                    if changed {
                        self.drawer.forget();
                        self.take_up_bench();
                    }
                }
                Err(why) => {
                    if let Some(Page::Winding(page)) = &mut self.page {
                        page.refuse(why);
                    }
                }
            },
            None => {}
        }
    }
}
