//! What can be wrong with a lesson: data first, the words for a person beside it.

use std::fmt;

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode, SourceSpan};

use crate::setup::{Place, SetupErrors};

/// What is wrong.
#[derive(Clone, Debug)]
#[expect(
    missing_docs,
    reason = "the variant's doc and message say what its fields hold"
)]
pub enum Complaint {
    /// There is no `lesson.md`.
    NoText,
    /// A text is larger than a lesson needs.
    TooLong {
        what: &'static str,
        n_bytes: usize,
        allowed: usize,
    },
    /// More of something than a lesson needs.
    TooMany {
        what: &'static str,
        n: usize,
        allowed: usize,
    },
    /// Brackets, lists or quotes inside each other.
    TooDeep { allowed: usize },
    /// A character that is not seen or that turns text round.
    Control { code: u32 },
    /// The front matter is not there or has no end.
    NoFrontMatter { opened: bool },
    /// The front matter cannot be read.
    FrontMatter { message: String },
    /// Another format than this program reads.
    Format { found: i64 },
    /// A name that is not a plain one.
    Name { what: &'static str, name: String },
    /// Two things of one name.
    Twice { what: &'static str, name: String },
    /// A file that no run uses.
    Stray { name: String },
    /// A setup that is not in the folder.
    NoSetup {
        name: String,
        nearest: Option<String>,
    },
    /// A setup with problems.
    Setup {
        file: String,
        errors: Box<SetupErrors>,
    },
    /// A run that would take too long.
    TooLongRun {
        run: String,
        found: String,
        allowed: String,
    },
    /// A run that stopped early.
    RunStopped { run: String, message: String },
    /// A name that nothing has.
    Unknown {
        what: &'static str,
        name: String,
        nearest: Option<String>,
    },
    /// A part of a condition that makes no sense where it stands.
    Unexpected { found: String, wanted: &'static str },
    /// A function with other arguments.
    Arguments { wanted: &'static str },
    /// Words that are no answer to a task.
    NoAnswer { found: String, wanted: &'static str },
    /// No such function.
    UnknownFunction { name: String },
    /// No such figure, key or channel.
    UnknownFact {
        name: String,
        nearest: Option<String>,
    },
    /// A figure that this run does not have.
    Absent { name: String },
    /// No unit of a figure.
    UnknownUnit { found: String },
    /// Values of different kinds.
    NotTogether {
        left: &'static str,
        right: &'static str,
        doing: &'static str,
    },
    /// `=` without `within`.
    NoTolerance,
    /// A number where a condition is needed.
    NotACondition { found: &'static str },
    /// Not a finite number.
    NotFinite,
    /// A part of a task that is missing or does not belong to its kind.
    Task {
        task: String,
        reason: &'static str,
        remedy: &'static str,
    },
    /// A task that the text does not show, or shows twice.
    TaskShown { task: String, n_times: usize },
    /// A start that passes already.
    StartPasses { task: String, detail: String },
    /// An answer that does not pass.
    AnswerFails { task: String, detail: String },
    /// A reply that no wrong answer of the lesson gets, or that the right one would get.
    Reply { task: String, detail: String },
    /// A claim that does not hold.
    Claim { found: String },
    /// A placeholder without its end.
    OpenPlaceholder,
    /// A link that leads out of the lesson.
    Link { target: String },
    /// A pointer at something that the bench does not have.
    Sight {
        target: String,
        nearest: Option<String>,
    },
    /// A picture that is not one of a run.
    Picture { target: String },
    /// A term that the glossary does not have.
    Term {
        name: String,
        nearest: Option<String>,
    },
    /// Too few or too many words.
    Words { n: usize, from: usize, to: usize },
}

impl PartialEq for Complaint {
    fn eq(&self, other: &Self) -> bool {
        self.to_string() == other.to_string()
    }
}

impl Complaint {
    /// What would be right, as a sentence or two.
    #[must_use]
    pub fn remedy(&self) -> Option<String> {
        let near = |nearest: &Option<String>| {
            nearest
                .as_ref()
                .map(|nearest| format!("did you mean `{nearest}`?"))
        };
        Some(match self {
            Self::NoText => "a lesson is a folder with `lesson.md` and its setups; `wyebench lesson new NAME` \
                             writes one to start from"
                .to_owned(),
            Self::TooLong { allowed, .. } => format!("at most {allowed} bytes: one idea to a lesson"),
            Self::TooMany { allowed, .. } => format!("at most {allowed}"),
            Self::TooDeep { allowed } => format!("at most {allowed} deep"),
            Self::Control { .. } => "take it out; new lines and tabs are the only ones a lesson needs".to_owned(),
            Self::NoFrontMatter { opened: false } => {
                "begin the file with a line `+++`, the keys `format = 1` and `title = \"…\"`, and a second line `+++`"
                    .to_owned()
            }
            Self::NoFrontMatter { opened: true } => "put a second line `+++` after the last key".to_owned(),
            Self::FrontMatter { .. } => "lessons/README.md lists the keys; texts stand in quotes".to_owned(),
            Self::Format { .. } => "write `format = 1`".to_owned(),
            Self::Name { .. } => {
                "small letters, digits and dashes, at most 60, as in `half-voltage`; a setup ends in .toml and lies in \
                 the lesson's own folder"
                    .to_owned()
            }
            Self::Twice { .. } => "give one of them another name".to_owned(),
            Self::Stray { .. } => "name it as the `setup` of a [[run]], or take it away".to_owned(),
            Self::NoSetup { nearest, .. } => near(nearest)
                .unwrap_or_else(|| "the setups of a lesson lie beside its lesson.md".to_owned()),
            Self::Setup { .. } | Self::AnswerFails { .. } | Self::StartPasses { .. } | Self::Reply { .. } => return None,
            Self::TooLongRun { allowed, .. } => format!("at most {allowed}; a shorter run shows the same"),
            Self::RunStopped { .. } => "change the setup so that its run comes to its end".to_owned(),
            Self::Unknown { nearest, .. } | Self::UnknownFact { nearest, .. } | Self::Term { nearest, .. } => {
                near(nearest)?
            }
            Self::Unexpected { .. } => {
                "a condition reads like `slow.mean_speed_rpm = 1500 rpm within 1 %`; lessons/README.md has the grammar"
                    .to_owned()
            }
            Self::Arguments { wanted } | Self::NoAnswer { wanted, .. } => format!("write {wanted}"),
            Self::UnknownFunction { .. } => "functions are max, min, at, abs and rpm".to_owned(),
            Self::Absent { .. } => "`wyebench run` on the setup says why the figure is not there".to_owned(),
            Self::UnknownUnit { .. } => "units of figures are rpm, Hz, Nm, A, V, W, s, ohm, H, deg, rpm/V, with prefixes, \
                                         and %"
                .to_owned(),
            Self::NotTogether { .. } => "give the number its unit, or compare figures of one kind".to_owned(),
            Self::NoTolerance => "add how near it must be: `within 1 %` or `within 5 rpm`".to_owned(),
            Self::NotACondition { .. } => "compare it with something, as in `< 15 mNm`".to_owned(),
            Self::NotFinite => "no division by zero, no number beyond 1e308".to_owned(),
            Self::Task { remedy, .. } => (*remedy).to_owned(),
            Self::TaskShown { task, n_times: 0 } => {
                format!("put a line `{{{{task {task}}}}}` where the reader should meet it")
            }
            Self::TaskShown { .. } => "show each task once".to_owned(),
            Self::Claim { .. } => "correct the claim and the words that rest on it, or the setup".to_owned(),
            Self::OpenPlaceholder => "close it with `}}`".to_owned(),
            Self::Link { .. } => {
                "a lesson links to `term:NAME` of the glossary, to `lesson:NAME` of the course and to `see:NAME` of the \
                 bench, and nowhere else"
                    .to_owned()
            }
            Self::Sight { nearest, .. } => match nearest {
                Some(nearest) => format!("did you mean `see:{nearest}`?"),
                None => "lessons/README.md lists what a lesson can point at: `see:coil-u`, `see:row-torque`".to_owned(),
            },
            Self::Picture { .. } => {
                "a picture is drawn from a run: `strips:RUN`, `story:RUN`, `machine:RUN` or `bridge:RUN`, with `@12ms` for an \
                 instant"
                    .to_owned()
            }
            Self::Words { from, to, .. } => format!("a lesson has {from} to {to} words: one idea, and room for it"),
        })
    }
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoText => write!(f, "there is no lesson.md"),
            Self::TooLong { what, n_bytes, .. } => {
                write!(f, "{what} of {n_bytes} bytes is too long")
            }
            Self::TooMany { what, n, .. } => write!(f, "{n} {what} are too many"),
            Self::TooDeep { .. } => write!(f, "this is nested too deeply"),
            Self::Control { code } => write!(
                f,
                "the invisible character U+{code:04X} has no place in a lesson"
            ),
            Self::NoFrontMatter { opened: false } => write!(f, "the front matter is missing"),
            Self::NoFrontMatter { opened: true } => write!(f, "the front matter has no end"),
            Self::FrontMatter { message } => write!(f, "{message}"),
            Self::Format { found } => write!(f, "format {found} is not known"),
            Self::Name { what, name } => write!(f, "\"{name}\" cannot be {what}"),
            Self::Twice { what, name } => write!(f, "there are two {what} of the name \"{name}\""),
            Self::Stray { name } => write!(f, "the file `{name}` belongs to no run of the lesson"),
            Self::NoSetup { name, .. } => {
                write!(f, "there is no setup `{name}` in the lesson's folder")
            }
            Self::Setup { file, .. } => write!(f, "the setup `{file}` cannot be used"),
            Self::TooLongRun { run, found, .. } => {
                write!(f, "the run \"{run}\" is too long for a lesson: {found}")
            }
            Self::RunStopped { run, message } => write!(f, "the run \"{run}\" stopped: {message}"),
            Self::Unknown { what, name, .. } => write!(f, "there is no {what} \"{name}\""),
            Self::Unexpected { found, wanted } => {
                write!(f, "{found} stands where {wanted} is needed")
            }
            Self::Arguments { .. } => write!(f, "this function takes something else"),
            Self::NoAnswer { found, .. } => write!(f, "\"{found}\" is no answer to this task"),
            Self::UnknownFunction { name } => write!(f, "there is no function `{name}`"),
            Self::UnknownFact { name, .. } => {
                write!(f, "no figure, key or channel is called `{name}`")
            }
            Self::Absent { name } => write!(f, "the run has no `{name}`"),
            Self::UnknownUnit { found } => write!(f, "`{found}` has no unit that is known here"),
            Self::NotTogether { left, right, doing } => write!(f, "{left} cannot {doing} {right}"),
            Self::NoTolerance => write!(f, "no figure of a run is exactly equal to a number"),
            Self::NotACondition { found } => write!(f, "{found} is no condition"),
            Self::NotFinite => write!(f, "this is not a finite number"),
            Self::Task { task, reason, .. } => write!(f, "task \"{task}\": {reason}"),
            Self::TaskShown { task, n_times: 0 } => {
                write!(f, "the text does not show the task \"{task}\"")
            }
            Self::TaskShown { task, n_times } => {
                write!(f, "the text shows the task \"{task}\" {n_times} times")
            }
            Self::StartPasses { task, detail } => {
                write!(
                    f,
                    "task \"{task}\" is solved before the reader has done anything: {detail}"
                )
            }
            Self::AnswerFails { task, detail } => {
                write!(f, "task \"{task}\": its own answer does not pass: {detail}")
            }
            Self::Reply { task, detail } => write!(f, "task \"{task}\": {detail}"),
            Self::Claim { found } => write!(f, "the claim does not hold: {found}"),
            Self::OpenPlaceholder => write!(f, "a placeholder has no end"),
            Self::Link { target } => write!(f, "the link to `{target}` leads out of the lesson"),
            Self::Sight { target, .. } => {
                write!(f, "`{target}` is nothing that the bench has")
            }
            Self::Picture { target } => write!(f, "`{target}` is no picture of a run"),
            Self::Term { name, .. } => write!(f, "the glossary has no term `{name}`"),
            Self::Words { n, from, .. } if n < from => {
                write!(f, "{n} words are too few for a lesson")
            }
            Self::Words { n, .. } => write!(f, "{n} words are too many for a lesson"),
        }
    }
}

/// One problem of a lesson, and its place in lesson.md where it has one.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonProblem {
    /// What.
    pub complaint: Complaint,
    /// Bytes of lesson.md.
    pub place: Option<Place>,
}

impl LessonProblem {
    /// A problem at a place.
    #[must_use]
    pub const fn at(complaint: Complaint, place: Place) -> Self {
        Self {
            complaint,
            place: Some(place),
        }
    }
}

impl From<Complaint> for LessonProblem {
    fn from(complaint: Complaint) -> Self {
        Self {
            complaint,
            place: None,
        }
    }
}

impl fmt::Display for LessonProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.complaint.fmt(f)
    }
}

impl std::error::Error for LessonProblem {}

impl Diagnostic for LessonProblem {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.complaint
            .remedy()
            .map(|text| Box::new(text) as Box<dyn fmt::Display>)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let place = self.place?;
        let span = SourceSpan::new(place.start.into(), place.end - place.start);
        let label = LabeledSpan::new_with_span(Some("here".to_owned()), span);
        Some(Box::new(std::iter::once(label)))
    }

    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        match &self.complaint {
            Complaint::Setup { errors, .. } => {
                let errors: &SetupErrors = errors;
                Some(Box::new(std::iter::once(errors as &dyn Diagnostic)))
            }
            _ => None,
        }
    }
}

/// Every problem of one lesson, in the order of its text.
#[derive(Clone, Debug)]
pub struct LessonErrors {
    source: NamedSource<String>,
    problems: Vec<LessonProblem>,
}

impl LessonErrors {
    pub(super) fn new(folder: &str, text: &str, mut problems: Vec<LessonProblem>) -> Self {
        problems.sort_by_key(|problem| problem.place.map_or(usize::MAX, |place| place.start));
        Self {
            source: NamedSource::new(format!("{folder}/lesson.md"), text.to_owned()),
            problems,
        }
    }

    /// The problems; never empty.
    #[must_use]
    pub fn problems(&self) -> &[LessonProblem] {
        &self.problems
    }
}

impl fmt::Display for LessonErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.source.name();
        match self.problems.len() {
            1 => write!(f, "{name} has a problem"),
            n => write!(f, "{name} has {n} problems"),
        }
    }
}

impl std::error::Error for LessonErrors {}

impl Diagnostic for LessonErrors {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.source)
    }

    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        Some(Box::new(self.problems.iter().map(|p| p as &dyn Diagnostic)))
    }
}
