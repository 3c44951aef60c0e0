//! Everything a command can fail with, and what the person sees of it.

use std::io::{IsTerminal, Write};

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme};

use super::ReadError;
use super::files::FileError;
use super::kind::FileKind;
use super::lesson_files::FolderError;
use crate::analysis::UnknownFigure;
use crate::export::csv::WaveformError;
use crate::export::handout::HandoutError;
use crate::export::picture::PictureError;
use crate::export::vcd::DumpError;
use crate::lesson::{Complaint, LessonErrors};
use crate::predict::PredictError;
use crate::setup::{Quantity, SetupErrors, format_quantity};
use crate::sim::RunError;
use crate::winding::{OrderError, WindingError};

/// Why a command did not do what was asked.
#[derive(Debug)]
pub enum Failure {
    /// A setup has problems.
    Setup(Box<SetupErrors>),
    /// Several setups have problems; they have been reported.
    Setups {
        /// How many.
        n_wrong: usize,
        /// Of how many.
        n_read: usize,
    },
    /// A file could not be read at all.
    Unreadable {
        /// Why.
        error: ReadError,
        /// What kind of file it should be.
        wanted: FileKind,
    },
    /// A file is of another kind than the command takes.
    OtherKind {
        /// What messages call it.
        name: String,
        /// What it is.
        is: FileKind,
        /// What the command takes.
        wanted: FileKind,
    },
    /// Standard input could not be read.
    Input(std::io::Error),
    /// Standard input is not text.
    InputNotText {
        /// The line, counted from 1.
        line: usize,
    },
    /// A figure was asked for that does not exist.
    Figure(UnknownFigure),
    /// No such winding.
    Winding(WindingError),
    /// A comparison that makes no sense.
    Compare(crate::compare::CompareError),
    /// Parts of a comparison that do not go together.
    Join(super::JoinError),
    /// A goal and parts of which nothing can be chosen.
    Choose(crate::choose::ChooseError),
    /// An answer was to be written that is not there.
    NoAnswer {
        /// Which one was wanted, from 1.
        wanted: u32,
        /// How many there are.
        n_answers: usize,
    },
    /// Stopped by hand; what is done has been written.
    Stopped {
        /// Candidates that are done.
        n_done: u64,
        /// Of how many.
        n_wanted: u64,
    },
    /// Its coils have no such order.
    Order(OrderError),
    /// An option whose value does not fit.
    Option {
        /// As written on the command line: `--kv`.
        option: &'static str,
        /// What was given.
        text: String,
        /// What would be right.
        wanted: String,
    },
    /// A name that no file can have.
    Name {
        /// The name.
        name: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// An output file.
    File(FileError),
    /// Standard output.
    Output(std::io::Error),
    /// A build that has no operating point.
    Predict(PredictError),
    /// Readings that no motor gives.
    NoMotor(crate::readings::NoMotor),
    /// Readings that leave open what a setup needs.
    Unfinished(crate::readings::Unfinished),
    /// A capture that cannot be opened.
    CaptureFile {
        /// As given.
        path: std::path::PathBuf,
        /// What the system said.
        reason: std::io::Error,
    },
    /// A capture that is no table, or shows nothing.
    Capture {
        /// What messages call it.
        name: String,
        /// What is wrong.
        reason: Box<dyn std::error::Error + Send + Sync>,
    },
    /// A picture of more samples than memory should hold.
    TooManySamples {
        /// Samples the setup asks for.
        n_samples: f64,
        /// How many there may be.
        at_most: f64,
        /// The spacing that would do, in s.
        sample_s: f64,
    },
    /// The run stopped before its end.
    Run(RunError),
    /// The run stopped before its measuring window began, without saying why.
    NoWindow,
    /// Waveforms could not be written.
    Waveforms(WaveformError),
    /// The dump of the legs could not be written.
    Dump(DumpError),
    /// The picture could not be made.
    Picture(PictureError),
    /// No graphics device draws the picture.
    #[cfg(feature = "window")]
    Painting(crate::view::OffscreenError),
    /// This build has no painters, so it makes no PNG of the bench.
    NoPainters,
    /// The instant that was asked for lies after the run's end.
    AfterTheEnd {
        /// The instant in s.
        at_s: f64,
        /// When the run ends, in s.
        end_s: f64,
    },
    /// A lesson has problems.
    Lesson(Box<LessonErrors>),
    /// Several lessons have problems; they have been reported.
    Lessons {
        /// How many.
        n_wrong: usize,
        /// Of how many.
        n_read: usize,
    },
    /// A folder is no lesson.
    Folder(FolderError),
    /// A run or an answer of a lesson.
    Task {
        /// Folder of the lesson.
        folder: String,
        /// What is wrong.
        complaint: Box<Complaint>,
    },
    /// A name that no lesson can have.
    LessonName {
        /// The name.
        name: String,
    },
    /// An answer is not right; its reply has been printed.
    NotYet,
    /// A handout could not be made.
    Handout(HandoutError),
    /// JSON could not be written.
    Json(serde_json::Error),
}

impl Failure {
    /// The exit status.
    #[must_use]
    pub fn status(&self) -> u8 {
        match self {
            Self::Setup(_)
            | Self::Setups { .. }
            | Self::Unreadable { .. }
            | Self::OtherKind { .. }
            | Self::Input(_)
            | Self::InputNotText { .. }
            | Self::Figure(_)
            | Self::Winding(_)
            | Self::Order(_)
            | Self::Compare(_)
            | Self::Choose(_)
            | Self::Join(_)
            | Self::TooManySamples { .. }
            | Self::Lesson(_)
            | Self::Lessons { .. }
            | Self::Folder(_)
            | Self::Task { .. }
            | Self::LessonName { .. }
            | Self::Option { .. }
            | Self::Name { .. }
            | Self::NoPainters
            | Self::NoMotor(_)
            | Self::Unfinished(_)
            | Self::CaptureFile { .. }
            | Self::Capture { .. }
            | Self::AfterTheEnd { .. } => 2,
            Self::File(error) if error.is_of_command_line() => 2,
            _ => 1,
        }
    }

    /// Prints it on standard error.
    pub fn report(&self) {
        let mut stderr = std::io::stderr();
        let coloured = stderr.is_terminal() && super::colour_wanted();
        let text = match self {
            Self::Setup(errors) => setup_text(errors, coloured),
            Self::Lesson(errors) => lesson_text(errors, coloured),
            Self::Task { complaint, .. } if setup_of(complaint).is_some() => {
                setup_of(complaint).map_or_else(String::new, |errors| setup_text(errors, coloured))
            }
            // the reply said it all
            Self::NotYet => return,
            other => {
                let (red, plain) = if coloured {
                    ("\u{1b}[31m", "\u{1b}[0m")
                } else {
                    ("", "")
                };
                format!("{red}wyebench:{plain} {other}\n")
            }
        };
        // Nobody is there to hear that standard error is closed.
        let _ = stderr.write_all(text.as_bytes());
    }
}

/// The problems of the setup that a complaint is about.
fn setup_of(complaint: &Complaint) -> Option<&SetupErrors> {
    match complaint {
        Complaint::Setup { errors, .. } => Some(errors),
        _ => None,
    }
}

/// The problems of a setup with lines and marks.
pub(crate) fn setup_text(errors: &SetupErrors, coloured: bool) -> String {
    marked_text(errors, coloured)
}

/// The problems of a lesson with lines and marks.
pub(crate) fn lesson_text(errors: &LessonErrors, coloured: bool) -> String {
    marked_text(errors, coloured)
}

fn marked_text(errors: &dyn Diagnostic, coloured: bool) -> String {
    let theme = if coloured {
        GraphicalTheme::unicode()
    } else {
        GraphicalTheme::unicode_nocolor()
    };
    let width = if std::io::stderr().is_terminal() {
        100
    } else {
        120
    };
    let handler = GraphicalReportHandler::new_themed(theme)
        .with_width(width)
        .with_links(false);
    let mut text = String::new();
    match handler.render_report(&mut text, errors) {
        Ok(()) => text,
        Err(_) => format!("{errors}\n"),
    }
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Setup(errors) => write!(f, "{errors}"),
            Self::Setups { n_wrong, n_read } => {
                write!(f, "{n_wrong} of {n_read} setups cannot be used")
            }
            Self::Unreadable {
                error: error @ ReadError::Missing { nearest: None, .. },
                wanted,
            } if *wanted != FileKind::Setup => write!(f, "{error}\n  {}", wanted.example()),
            Self::Unreadable { error, .. } => {
                write!(f, "{error}")?;
                error.help().map_or(Ok(()), |help| write!(f, "\n  {help}"))
            }
            Self::OtherKind { name, is, wanted } => {
                write!(
                    f,
                    "{name} is {}, and {} is needed here",
                    is.name(),
                    wanted.name()
                )?;
                if name == STANDARD_INPUT {
                    write!(f, "\n  {}", wanted.example())
                } else {
                    write!(
                        f,
                        "\n  `{}` takes it; {}",
                        is.command(name),
                        wanted.example()
                    )
                }
            }
            Self::Input(error) => write!(f, "standard input cannot be read: {error}"),
            Self::InputNotText { line } => {
                write!(f, "standard input is not text in UTF-8, from line {line}")
            }
            Self::Figure(error) => write!(f, "{error}"),
            Self::Winding(error) => write!(f, "{error}"),
            Self::Order(error) => write!(f, "{error}"),
            Self::Compare(error) => write!(f, "{error}"),
            Self::Stopped { n_done, n_wanted } => write!(
                f,
                "stopped by hand: {n_done} of {n_wanted} candidates are done, and what is done is kept"
            ),
            Self::Join(error) => write!(f, "{error}"),
            Self::Choose(error) => write!(f, "{error}"),
            Self::NoAnswer { n_answers: 0, .. } => {
                write!(
                    f,
                    "no combination meets the goal, so no build file is written"
                )
            }
            Self::NoAnswer { wanted, n_answers } => write!(
                f,
                "there is no answer {wanted} to write: {n_answers} combinations meet the goal; take --pick {n_answers} or less"
            ),
            Self::Option {
                option,
                text,
                wanted,
            } => write!(f, "{option} \"{text}\" is not {wanted}"),
            Self::Name { name, reason } => write!(f, "`{name}` cannot be a setup's name: {reason}"),
            Self::File(error) => write!(f, "{error}"),
            Self::Output(error) => write!(f, "standard output cannot be written: {error}"),
            Self::Predict(error) => write!(f, "{error}"),
            Self::NoMotor(error) => write!(f, "{error}"),
            Self::Unfinished(error) => write!(f, "{error}"),
            Self::CaptureFile { path, reason } => match reason.kind() {
                std::io::ErrorKind::NotFound => write!(
                    f,
                    "there is no file {}\n  `wyebench capture --example` prints an invented capture to start from",
                    shown_path(path)
                ),
                std::io::ErrorKind::IsADirectory => write!(
                    f,
                    "{} is a folder\n  name the CSV file in it",
                    shown_path(path)
                ),
                std::io::ErrorKind::PermissionDenied => write!(
                    f,
                    "{} may not be read\n  ask for the right to read it, or copy it",
                    shown_path(path)
                ),
                _ => write!(f, "{} cannot be read: {reason}", shown_path(path)),
            },
            Self::Capture { name, reason } => write!(f, "{name}: {reason}"),
            Self::TooManySamples {
                n_samples,
                at_most,
                sample_s,
            } => write!(
                f,
                "the setup asks for {n_samples:.2e} samples, and a picture keeps at most {at_most:.0e}: set run.sample \
                 to \"{} us\" or more (the solution does not depend on it), or shorten run.duration; waveform files \
                 have no such limit",
                (sample_s * 1e6 * 1000.0).ceil() / 1000.0
            ),
            Self::Run(error) => write!(
                f,
                "{error}\n  what was recorded until then is kept in the files that were asked for"
            ),
            Self::NoWindow => write!(f, "the run ended before there was anything to measure"),
            Self::Waveforms(error) => write!(f, "the waveforms cannot be written: {error}"),
            Self::Dump(error) => write!(f, "the dump of the legs cannot be written: {error}"),
            Self::Picture(error) => write!(f, "{error}"),
            #[cfg(feature = "window")]
            Self::Painting(error) => write!(
                f,
                "the picture cannot be drawn: {error}\n  an SVG needs no graphics device: name \
                 the file FILE.svg"
            ),
            Self::NoPainters => write!(
                f,
                "this build has no painters (feature `window`), so it makes no PNG of the bench; \
                 name the file FILE.svg"
            ),
            Self::AfterTheEnd { at_s, end_s } => write!(
                f,
                "--at {} lies after the end of the run, which is at {}; take an earlier instant, \
                 or a longer run.duration",
                format_quantity(*at_s, Quantity::Time),
                format_quantity(*end_s, Quantity::Time)
            ),
            Self::Lesson(errors) => write!(f, "{errors}"),
            Self::Lessons { n_wrong, n_read } => {
                write!(f, "{n_wrong} of {n_read} lessons have problems")
            }
            Self::Folder(error) => write!(f, "{error}"),
            Self::Task { folder, complaint } => {
                write!(f, "{folder}: {complaint}")?;
                complaint
                    .remedy()
                    .map_or(Ok(()), |remedy| write!(f, "\n  {remedy}"))
            }
            Self::LessonName { name } => write!(
                f,
                "`{name}` cannot be a lesson's name: it is a folder in the current one, in small letters, digits and \
                 dashes, as in `07-a-warm-motor`"
            ),
            Self::NotYet => write!(f, "not right yet"),
            Self::Handout(error) => write!(f, "{error}"),
            Self::Json(error) => write!(f, "the JSON cannot be written: {error}"),
        }
    }
}

impl std::error::Error for Failure {}

/// What messages call a text that came without a file.
pub(crate) const STANDARD_INPUT: &str = "standard input";

/// A path as messages quote it.
pub(crate) fn shown_path(path: &std::path::Path) -> String {
    if path.as_os_str() == "-" {
        STANDARD_INPUT.to_owned()
    } else {
        format!("`{}`", path.display())
    }
}

macro_rules! from {
    ($($error:ty => $variant:ident),* $(,)?) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Self {
                Self::$variant(error)
            }
        })*
    };
}

from! {
    UnknownFigure => Figure,
    WindingError => Winding,
    OrderError => Order,
    FileError => File,
    std::io::Error => Output,
    RunError => Run,
    crate::choose::ChooseError => Choose,
    WaveformError => Waveforms,
    DumpError => Dump,
    PictureError => Picture,
    serde_json::Error => Json,
}
