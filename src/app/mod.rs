//! The window: the machine large on the left, bridge and waveforms on the right, figures below,
//! time at the bottom.
//!
//! Everything on the screen is read from the record at one instant, the cursor. The time control
//! moves the cursor; scrubbing never touches the simulation. No physics is here.
#![expect(
    clippy::disallowed_methods,
    reason = "the window rounds and turns as the platform does; nothing here feeds back into a run"
)]

mod beside;
mod by_hand;
mod candidates;
mod capturing;
mod checking;
mod choosing;
mod course;
mod drawer;
mod figures;
mod file_field;
mod form_page;
mod frame;
mod hand;
mod job;
mod keys;
mod live;
mod parts;
mod picture;
mod plots_panel;
mod plots_showing;
mod plots_view;
mod prediction;
mod rail;
mod rewrite;
mod sheet_form;
mod shelf;
mod standing;
mod stride;
mod style;
mod time_control;
mod window;

pub use crate::scene::Shown;
pub use frame::Frame;
pub use keys::{Deed, KEYS, KeyLine};
pub use live::Live;
pub use standing::Standing;
pub use stride::Stride;
pub use time_control::TimeControl;
pub use window::App;

use crate::lesson::LessonFiles;
use crate::setup::Setup;
use crate::winding::WindingError;
use winit::error::EventLoopError;

/// Puts a setup on the bench, opens the window, and returns when it is closed. `path` is the file
/// that it was read from, where it was; `lesson` is opened beside it.
///
/// # Errors
/// [`OpenError`]: the winding cannot be drawn, or the window system or the graphics device
/// refuses.
#[cfg(not(target_arch = "wasm32"))]
pub fn open(
    setup: &Setup,
    path: Option<&std::path::Path>,
    lesson: Option<LessonFiles>,
) -> Result<(), OpenError> {
    let shown = Shown::new(setup).map_err(OpenError::Winding)?;
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Wyebench")
            .with_inner_size([1360.0, 860.0])
            .with_min_inner_size([480.0, 420.0]),
        ..eframe::NativeOptions::default()
    };
    eframe::run_native(
        "Wyebench",
        options,
        Box::new(|creation| {
            let mut app = App::new(creation, shown, setup.clone());
            // Without a home there is nothing to remember, and nowhere.
            if let Some(folders) = directories::ProjectDirs::from("", "", "wyebench") {
                app.remember_in(folders.config_dir(), &creation.egui_ctx);
            }
            if let Some(path) = path {
                app.opened_from(path);
            }
            match lesson {
                // what is wrong with it is shown in the window
                Some(files) => drop(app.open_lesson(files)),
                None => app.run(),
            }
            Ok(Box::new(app))
        }),
    )
    .map_err(OpenError::from)
}

/// Why no window opened.
#[derive(Debug)]
pub enum OpenError {
    /// The machine's winding cannot be laid out.
    Winding(WindingError),
    /// There is no display to open a window on, in the words of the window system.
    NoDisplay(EventLoopError),
    /// The window system or the graphics device refused.
    Window(eframe::Error),
}

impl From<eframe::Error> for OpenError {
    fn from(error: eframe::Error) -> Self {
        match error {
            eframe::Error::WinitEventLoop(error) => match error {
                // What the window system answers before it has a display to talk to.
                EventLoopError::Os(_) | EventLoopError::NotSupported(_) => Self::NoDisplay(error),
                other => Self::Window(eframe::Error::WinitEventLoop(other)),
            },
            other => Self::Window(other),
        }
    }
}

impl std::fmt::Display for OpenError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Winding(error) => write!(f, "the winding cannot be drawn: {error}"),
            // what the window system answers names a place in its own source: no use to a reader
            Self::NoDisplay(_) => write!(f, "no display was found"),
            Self::Window(error) => write!(f, "the window cannot be opened: {error}"),
        }
    }
}

impl std::error::Error for OpenError {}
