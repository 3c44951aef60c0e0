//! `wyebench lesson`: list, read, run, check, handout, new.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::arguments::{
    HandoutArguments, LessonCheckArguments, LessonCommand, LessonListArguments, LessonNewArguments,
    LessonOpenArguments, LessonReadArguments, LessonRunArguments,
};
use super::failure::lesson_text;
use super::files::{Format, OutputTarget, WholeFile, write_new};
use super::lesson_files::{FolderError, read_folder};
use super::run::{Wanted, run_setup};
use super::{Failure, Terminal, input, table};
use crate::export::handout::{Options, handout};
use crate::lesson::check::{Checked, check};
use crate::lesson::{
    Answer, Complaint, Lesson, Part, Runs, Subject, Task, TaskKind, course, judge, letter, parse,
    starter, subject_of, text,
};

/// Columns of a text on a terminal.
const WIDTH: usize = 88;

pub(crate) fn command(command: &LessonCommand, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    match command {
        LessonCommand::List(arguments) => list(arguments, terminal),
        LessonCommand::Open(arguments) => open(arguments, terminal),
        LessonCommand::Read(arguments) => read(arguments, terminal),
        LessonCommand::Run(arguments) => run(arguments, terminal),
        LessonCommand::Check(arguments) => check_command(arguments, terminal),
        LessonCommand::Handout(arguments) => handout_command(arguments, terminal),
        LessonCommand::New(arguments) => new(arguments, terminal),
    }
}

/// A lesson of the course by number or name, or one from a folder.
fn lesson(asked: &Path) -> Result<Lesson, Failure> {
    let named = asked
        .to_str()
        .filter(|name| !name.contains(['/', '\\']) && *name != ".");
    let files = match named.and_then(course::folder_named).and_then(course::files) {
        // what lies in the current folder under that very name is meant before the course
        Some(files) if !asked.join("lesson.md").is_file() => files,
        _ => read_folder(asked).map_err(Failure::Folder)?,
    };
    parse(files).map_err(|errors| Failure::Lesson(Box::new(errors)))
}

fn built_in() -> Result<Vec<Lesson>, Failure> {
    course::folders()
        .filter_map(course::files)
        .map(|files| parse(files).map_err(|errors| Failure::Lesson(Box::new(errors))))
        .collect()
}

/// The lessons in a folder of folders, in the order of their names.
fn all_in(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let fail = |reason: std::io::Error| {
        Failure::Folder(match reason.kind() {
            std::io::ErrorKind::NotFound => FolderError::Missing {
                path: folder.to_path_buf(),
            },
            std::io::ErrorKind::NotADirectory => FolderError::NotAFolder {
                path: folder.to_path_buf(),
            },
            _ => FolderError::Other {
                path: folder.to_path_buf(),
                reason,
            },
        })
    };
    let mut found: Vec<PathBuf> = std::fs::read_dir(folder)
        .map_err(fail)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.join("lesson.md").is_file())
        .collect();
    found.sort();
    Ok(found)
}

fn list(arguments: &LessonListArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let lessons = match &arguments.folder {
        None => built_in()?,
        Some(folder) => {
            let paths = all_in(folder)?;
            paths
                .iter()
                .map(|path| lesson(path))
                .collect::<Result<_, _>>()?
        }
    };
    let width = lessons
        .iter()
        .map(|lesson| lesson.files.folder.chars().count())
        .max();
    for lesson in &lessons {
        let folder = &lesson.files.folder;
        let idea = text::printable(&lesson.idea);
        writeln!(
            terminal.out,
            "{folder:<0$}  {1}\n{2:<0$}  {idea}",
            width.unwrap_or(0),
            text::printable(&lesson.title),
            ""
        )?;
    }
    Ok(())
}

/// The window at the lesson, or, where none can open, the lesson as text.
fn open(arguments: &LessonOpenArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let lesson = lesson(&arguments.lesson)?;
    let Err(reason) = in_window(&lesson) else {
        return Ok(());
    };
    writeln!(terminal.out, "No window: {reason}. The lesson as text:\n")?;
    let arguments = LessonReadArguments {
        lesson: arguments.lesson.clone(),
        hints: 0,
        answers: false,
    };
    read(&arguments, terminal)
}

#[cfg(feature = "window")]
fn in_window(lesson: &Lesson) -> Result<(), String> {
    let setup = crate::setup::Setup::parse(crate::setup::built_in(), "the built-in setup")
        .map_err(|errors| errors.to_string())?;
    let files = lesson.files.clone();
    crate::app::open(&setup, None, Some(files)).map_err(|error| error.to_string())
}

#[cfg(not(feature = "window"))]
fn in_window(_: &Lesson) -> Result<(), String> {
    Err("this build has none".to_owned())
}

/// A complaint of a run or a task, as a failure.
fn told(lesson: &Lesson) -> impl Fn(Complaint) -> Failure + '_ {
    |complaint| Failure::Task {
        folder: lesson.files.folder.clone(),
        complaint: Box::new(complaint),
    }
}

fn read(arguments: &LessonReadArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let lesson = lesson(&arguments.lesson)?;
    let mut runs = Runs::new(&lesson);
    let fail = told(&lesson);
    let title = text::printable(&lesson.title);
    writeln!(
        terminal.out,
        "{title}\n{}\n",
        "=".repeat(title.chars().count())
    )?;
    writeln!(terminal.out, "{}", text::plain(&lesson.idea, WIDTH))?;
    let mut n_task = 0;
    for part in &lesson.parts {
        writeln!(terminal.out)?;
        match part {
            Part::Text { markdown, .. } => {
                let filled = runs
                    .fill(markdown, &Subject::default())
                    .map_err(|(complaint, _)| fail(complaint))?;
                writeln!(terminal.out, "{}", text::plain(&filled, WIDTH))?;
            }
            Part::Task(idx) => {
                n_task += 1;
                print_task(&lesson.tasks[*idx], n_task, arguments, &mut runs, terminal).map_err(
                    |error| match error {
                        TaskError::Complaint(complaint) => fail(complaint),
                        TaskError::Output(error) => Failure::Output(error),
                    },
                )?;
            }
        }
    }
    Ok(())
}

enum TaskError {
    Complaint(Complaint),
    Output(std::io::Error),
}

impl From<std::io::Error> for TaskError {
    fn from(error: std::io::Error) -> Self {
        Self::Output(error)
    }
}

impl From<Complaint> for TaskError {
    fn from(complaint: Complaint) -> Self {
        Self::Complaint(complaint)
    }
}

fn print_task(
    task: &Task,
    number: usize,
    arguments: &LessonReadArguments,
    runs: &mut Runs<'_>,
    terminal: &mut Terminal<'_>,
) -> Result<(), TaskError> {
    let subject = subject_of(task, runs, &[])?;
    let mut say = |runs: &mut Runs<'_>, lead: &str, words: &str| -> Result<(), TaskError> {
        let filled = runs
            .fill(words, &subject)
            .map_err(|(complaint, _)| complaint)?;
        let shown = text::plain(&filled, WIDTH - 4);
        let indented = shown.replace('\n', &format!("\n    {}", " ".repeat(lead.chars().count())));
        writeln!(terminal.out, "    {lead}{indented}")?;
        Ok(())
    };
    say(runs, &format!("Task {number}, {}. ", task.name), &task.ask)?;
    match &task.kind {
        TaskKind::Choice(options) => {
            for (idx, option) in options.iter().enumerate() {
                say(runs, &format!("  {}) ", letter(idx)), &option.text)?;
            }
        }
        TaskKind::Order { items, .. } => {
            for (at, item) in task.shown_order().into_iter().enumerate() {
                say(runs, &format!("  {}. ", at + 1), &items[item])?;
            }
        }
        TaskKind::Bench { may_set, run, .. } => {
            let keys: Vec<String> = may_set.iter().map(|key| format!("`{key}`")).collect();
            let words = format!("Set {} of the run `{run}`.", keys.join(", "));
            say(runs, "  ", &words)?;
        }
        TaskKind::Number { .. } => {}
    }
    let level = if arguments.answers {
        2
    } else {
        usize::from(arguments.hints)
    };
    for (idx, hint) in task.hints.iter().take(level).enumerate() {
        say(runs, &format!("  Hint {}: ", idx + 1), hint)?;
    }
    if arguments.answers {
        say(runs, "  Answer: ", &task.worked)?;
    }
    Ok(())
}

fn run(arguments: &LessonRunArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let lesson = lesson(&arguments.lesson)?;
    let runs = Runs::new(&lesson);
    let fail = told(&lesson);
    let Some(name) = &arguments.run else {
        for spec in &lesson.runs {
            let with: Vec<String> = spec
                .with
                .iter()
                .map(|(key, value)| format!("{key} = {value}"))
                .collect();
            let with = if with.is_empty() {
                String::new()
            } else {
                format!(" with {}", with.join(", "))
            };
            writeln!(
                terminal.out,
                "{}: {}{}",
                spec.name,
                spec.file,
                text::printable(&with)
            )?;
        }
        return Ok(());
    };
    let spec = lesson.run(name).ok_or_else(|| {
        fail(Complaint::Unknown {
            what: "run",
            name: text::harmless(name),
            nearest: lesson.runs.first().map(|run| run.name.clone()),
        })
    })?;
    let (setup, _) = runs.setup_with(spec, &[]).map_err(&fail)?;
    if let Some(path) = &arguments.setup {
        let own_text = lesson
            .files
            .texts
            .get(&spec.file)
            .filter(|_| spec.with.is_empty());
        let whole = own_text.map_or_else(|| setup.to_toml(), String::clone);
        OutputTarget::check(path, &[Format::Toml])?;
        write_new(path, whole.as_bytes())?;
        writeln!(terminal.out, "{}", path.display())?;
        return Ok(());
    }
    // the limits of a lesson's run hold here too
    runs.with(name, &[], false).map_err(&fail)?;
    let report = run_setup(&setup, &Wanted::default())?;
    table::print(&setup.title, &report, terminal)?;
    Ok(())
}

fn check_command(
    arguments: &LessonCheckArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    if let Some(name) = &arguments.task {
        return answer(arguments, name, terminal);
    }
    let mut wrong = Vec::new();
    let mut n_read = 0;
    let mut take = |read: Result<Lesson, Failure>, terminal: &mut Terminal<'_>| {
        n_read += 1;
        let checked = read.and_then(|lesson| {
            check(&lesson)
                .map(|checked| (lesson.files.folder.clone(), checked))
                .map_err(|errors| Failure::Lesson(Box::new(errors)))
        });
        match checked {
            Ok((folder, checked)) => writeln!(terminal.out, "{}", line(&folder, &checked)),
            Err(failure) => {
                wrong.push(failure);
                Ok(())
            }
        }
    };
    if arguments.lessons.is_empty() {
        for files in course::folders().filter_map(course::files) {
            let read = parse(files).map_err(|errors| Failure::Lesson(Box::new(errors)));
            take(read, terminal)?;
        }
    }
    for path in &arguments.lessons {
        let inner = if path.join("lesson.md").is_file() || !path.is_dir() {
            vec![path.clone()]
        } else {
            let inner = all_in(path)?;
            if inner.is_empty() {
                vec![path.clone()]
            } else {
                inner
            }
        };
        for path in inner {
            take(lesson(&path), terminal)?;
        }
    }
    let n_wrong = wrong.len();
    match (n_wrong, wrong.pop()) {
        (_, None) => Ok(()),
        (1, Some(only)) if n_read == 1 => Err(only),
        (_, Some(last)) => {
            terminal.out.flush()?;
            wrong.push(last);
            for failure in &wrong {
                match failure {
                    Failure::Lesson(errors) => {
                        let coloured = super::colour_wanted()
                            && std::io::IsTerminal::is_terminal(&std::io::stderr());
                        let text = lesson_text(errors, coloured);
                        let _ = std::io::stderr().write_all(text.as_bytes());
                    }
                    other => other.report(),
                }
            }
            Err(Failure::Lessons { n_wrong, n_read })
        }
    }
}

fn line(folder: &str, checked: &Checked) -> String {
    let Checked {
        n_words,
        n_runs,
        n_tasks,
        n_numbers,
        n_claims,
    } = checked;
    format!(
        "{folder}: ok; {n_words} words, {n_runs} runs, {n_tasks} tasks, {n_numbers} numbers from runs, {n_claims} claims"
    )
}

/// A reader's answer to one task.
fn answer(
    arguments: &LessonCheckArguments,
    name: &str,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let [path] = arguments.lessons.as_slice() else {
        return Err(Failure::Option {
            option: "--task",
            text: name.to_owned(),
            wanted:
                "asked of one lesson: `wyebench lesson check LESSON --task NAME --answer ANSWER`"
                    .to_owned(),
        });
    };
    let lesson = lesson(path)?;
    let fail = told(&lesson);
    let task = lesson.task(name).ok_or_else(|| {
        let names: Vec<&str> = lesson.tasks.iter().map(|task| task.name.as_str()).collect();
        Failure::Option {
            option: "--task",
            text: text::harmless(name),
            wanted: format!("a task of this lesson: {}", names.join(", ")),
        }
    })?;
    let mut runs = Runs::new(&lesson);
    let answer = match &arguments.setup {
        Some(path) => {
            let own = input::read_setup(path)?;
            Answer::of_setup(task, &runs, &own)
        }
        None => {
            let texts: Vec<&str> = arguments.answer.iter().map(String::as_str).collect();
            Answer::parse(task, &texts)
        }
    }
    .map_err(&fail)?;
    let verdict = judge(task, &answer, &mut runs, &[]).map_err(|error| fail(error.complaint))?;
    let word = if verdict.passed { "right" } else { "not yet" };
    // a number is not given away by a wrong guess
    let hidden = matches!(task.kind, TaskKind::Number { .. }) && !verdict.passed;
    if verdict.found.is_empty() || hidden {
        writeln!(terminal.out, "{word}")?;
    } else {
        writeln!(
            terminal.out,
            "{word}: {}",
            verdict.found.replace('\u{a0}', " ")
        )?;
    }
    if let Some(reply) = &verdict.reply {
        writeln!(terminal.out, "{}", text::plain(reply, WIDTH))?;
    }
    if verdict.passed {
        Ok(())
    } else {
        Err(Failure::NotYet)
    }
}

fn handout_command(
    arguments: &HandoutArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let lessons = if arguments.lessons.is_empty() {
        built_in()?
    } else {
        arguments
            .lessons
            .iter()
            .map(|path| lesson(path))
            .collect::<Result<_, _>>()?
    };
    let target = OutputTarget::check(&arguments.output, &[Format::Html])?;
    let page = handout(
        &lessons,
        Options {
            students: arguments.students,
            seed: arguments.seed,
        },
    )
    .map_err(Failure::Handout)?;
    let mut file = WholeFile::begin(&target)?;
    file.write_all(page.as_bytes()).map_err(|error| {
        Failure::File(super::files::FileError::Write {
            path: target.path().to_path_buf(),
            error,
        })
    })?;
    file.finish()?;
    writeln!(terminal.out, "{}", target.path().display())?;
    Ok(())
}

fn new(arguments: &LessonNewArguments, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let name = &arguments.name;
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if name.is_empty() || name.len() > 60 || name.starts_with('-') || !name.chars().all(plain) {
        return Err(Failure::LessonName {
            name: text::harmless(name),
        });
    }
    let folder = Path::new(name);
    let refused = |error: std::io::Error| {
        Failure::File(match error.kind() {
            std::io::ErrorKind::AlreadyExists => super::files::FileError::Exists {
                path: folder.to_path_buf(),
            },
            _ => super::files::FileError::NotWritable {
                path: folder.to_path_buf(),
                error,
            },
        })
    };
    std::fs::create_dir(folder).map_err(refused)?;
    for (file, text) in starter(&title_of(name)) {
        let path = folder.join(file);
        write_new(&path, text.as_bytes())?;
        writeln!(terminal.out, "{}", path.display())?;
    }
    let _ = writeln!(
        std::io::stderr(),
        "`{name}` is written; `wyebench lesson check {name}` checks it"
    );
    Ok(())
}

/// `03-a-warm-motor` as a heading: `A warm motor`.
fn title_of(name: &str) -> String {
    let words = match name.split_once('-') {
        Some((number, rest)) if number.parse::<u32>().is_ok() && !rest.is_empty() => rest,
        _ => name,
    };
    let words = words.replace('-', " ");
    let mut characters = words.chars();
    characters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(characters).collect()
    })
}
