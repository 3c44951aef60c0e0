//! A lesson or the whole course on paper: one HTML page that needs nothing beside it.
//!
//! Text with the numbers of the runs, pictures drawn from the runs, tasks with room to write, and
//! the answers on a sheet of their own at the end. For a class, a sheet for each student with
//! figures of its own and a key to all of them.

mod pictures;

use std::fmt::Write as _;

use pulldown_cmark::{Event, Tag, TagEnd, html};

use crate::export::page::{self, escaped};
use crate::export::picture::PictureError;
use crate::lesson::text::{self, Target};
use crate::lesson::{
    Complaint, ConditionError, Lesson, Part, Runs, Setting, Subject, Task, TaskKind, course,
    letter, pick, right_answer, subject_of,
};

/// Most students of one handout.
pub const MOST_STUDENTS: u32 = 60;

/// What goes on paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Sheets with figures of their own; 0: none.
    pub students: u32,
    /// The same seed gives the same figures.
    pub seed: u64,
}

/// Why a handout could not be made.
#[derive(Debug)]
pub enum HandoutError {
    /// Something of a lesson.
    Lesson {
        /// Folder of the lesson.
        folder: String,
        /// What.
        complaint: Complaint,
    },
    /// A picture.
    Picture(PictureError),
    /// Sheets for students of lessons without figures that vary.
    NothingVaries,
    /// More students than a handout takes.
    TooManyStudents {
        /// How many were asked.
        asked: u32,
    },
}

impl std::fmt::Display for HandoutError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Lesson { folder, complaint } => {
                write!(f, "{folder}: {complaint}")?;
                complaint
                    .remedy()
                    .map_or(Ok(()), |remedy| write!(f, "\n  {remedy}"))
            }
            Self::Picture(error) => write!(f, "{error}"),
            Self::NothingVaries => write!(
                f,
                "no task of this handout has figures that vary (`vary` of a number task), so there is nothing to \
                 randomise; leave --students out or take another lesson"
            ),
            Self::TooManyStudents { asked } => write!(
                f,
                "{asked} students are more than the {MOST_STUDENTS} of one handout: make several, each with another \
                 --seed"
            ),
        }
    }
}

impl std::error::Error for HandoutError {}

impl From<PictureError> for HandoutError {
    fn from(error: PictureError) -> Self {
        Self::Picture(error)
    }
}

/// The page.
///
/// # Errors
/// [`HandoutError`].
pub fn handout(lessons: &[Lesson], options: Options) -> Result<String, HandoutError> {
    if options.students > MOST_STUDENTS {
        return Err(HandoutError::TooManyStudents {
            asked: options.students,
        });
    }
    let title = match lessons {
        [only] => only.title.clone(),
        _ => "Brushless motors on the bench: the course".to_owned(),
    };
    let mut page = Page {
        out: String::new(),
        only: lessons.len() == 1,
        folders: lessons
            .iter()
            .map(|lesson| lesson.files.folder.clone())
            .collect(),
        n_figures: 0,
    };
    page.out += &page::head(&title, "");
    let mut answers = String::new();
    let mut sheets = vec![String::new(); options.students as usize];
    let mut key = Key::default();
    for lesson in lessons {
        let mut runs = Runs::new(lesson);
        page.lesson(lesson, &mut runs)?;
        answers += &answers_of(lesson, &mut runs)?;
        for (student, sheet) in sheets.iter_mut().enumerate() {
            *sheet += &own_tasks(lesson, &mut runs, options.seed, student as u64, &mut key)?;
        }
    }
    if options.students > 0 && key.heads.is_empty() {
        return Err(HandoutError::NothingVaries);
    }
    if !page.only {
        page.out += &glossary_html();
    }
    for (idx, sheet) in sheets.iter().enumerate() {
        let _ = write!(
            page.out,
            "<section class=\"sheet\">{NAME_LINE}<h1>Sheet {}</h1>\n<p>The figures on this sheet are its own; a \
             neighbour's are others.</p>\n{sheet}</section>\n",
            idx + 1
        );
    }
    let _ = write!(
        page.out,
        "<section class=\"answers\">\n<h1>Answers</h1>\n<p class=\"small\">Keep this sheet back until the tasks are \
         done.</p>\n{answers}</section>\n"
    );
    if options.students > 0 {
        page.out += &key.table(options.seed);
    }
    page.out += "</body>\n</html>\n";
    Ok(page.out)
}

const NAME_LINE: &str =
    "<p class=\"name-line\"><span>Name</span><span>Group</span><span>Date</span></p>";

struct Page {
    out: String,
    /// One lesson, and so no glossary.
    only: bool,
    /// What lessons are on the page.
    folders: Vec<String>,
    n_figures: usize,
}

impl Page {
    fn lesson(&mut self, lesson: &Lesson, runs: &mut Runs<'_>) -> Result<(), HandoutError> {
        let number = lesson.number().map_or(String::new(), |n| format!("{n} · "));
        let class = if self.only { "lesson only" } else { "lesson" };
        let _ = write!(
            self.out,
            "<section class=\"{class}\" id=\"{}\">\n{NAME_LINE}\n<h1>{number}{}</h1>\n<p class=\"idea\">{}</p>\n",
            escaped(&lesson.files.folder),
            escaped(&lesson.title),
            escaped(&lesson.idea)
        );
        let mut n_task = 0;
        for part in &lesson.parts {
            match part {
                Part::Text { markdown, .. } => {
                    let html = self.text(lesson, runs, markdown)?;
                    self.out += &html;
                }
                Part::Task(idx) => {
                    n_task += 1;
                    let html = task_html(lesson, &lesson.tasks[*idx], runs, &[], n_task)?;
                    self.out += &html;
                }
            }
        }
        runs.forget_records();
        self.out += "</section>\n";
        Ok(())
    }

    /// Text with numbers, pictures and links within the page.
    fn text(
        &mut self,
        lesson: &Lesson,
        runs: &mut Runs<'_>,
        markdown: &str,
    ) -> Result<String, HandoutError> {
        let filled = filled(lesson, runs, markdown, &Subject::default())?;
        let mut events: Vec<Event<'_>> = Vec::new();
        let mut caption: Option<(String, String)> = None;
        // whether each link that is open is one on paper; what points at the bench is only words
        let mut links: Vec<bool> = Vec::new();
        for (event, _) in text::events(&filled) {
            match event {
                Event::Start(Tag::Image { dest_url, .. }) => {
                    caption = Some((dest_url.to_string(), String::new()));
                }
                Event::End(TagEnd::Image) => {
                    let Some((target, words)) = caption.take() else {
                        continue;
                    };
                    let figure = self.figure(lesson, runs, &target, &words)?;
                    // a picture stands alone in its paragraph, which a figure replaces
                    if matches!(events.last(), Some(Event::Start(Tag::Paragraph))) {
                        events.pop();
                    }
                    events.push(Event::Html(figure.into()));
                    caption = None;
                }
                Event::End(TagEnd::Paragraph) if matches!(events.last(), Some(Event::Html(html)) if html.starts_with("<figure")) =>
                    {}
                Event::Text(words) | Event::Code(words) if caption.is_some() => {
                    if let Some((_, caption)) = &mut caption {
                        caption.push_str(&words);
                    }
                }
                Event::SoftBreak | Event::HardBreak if caption.is_some() => {
                    if let Some((_, caption)) = &mut caption {
                        caption.push(' ');
                    }
                }
                Event::Start(Tag::Link { dest_url, .. })
                    if matches!(text::link(&dest_url), Some(Target::See(_))) =>
                {
                    links.push(false);
                }
                Event::End(TagEnd::Link) if links.pop() == Some(false) => {}
                Event::Start(Tag::Link { dest_url, .. }) => {
                    links.push(true);
                    match text::link(&dest_url) {
                        Some(Target::Lesson(name)) if self.folders.contains(&name) => {
                            events.push(Event::Html(
                                format!("<a href=\"#{}\">", escaped(&name)).into(),
                            ));
                        }
                        Some(Target::Term(name))
                            if !self.only && course::glossary().term(&name).is_some() =>
                        {
                            events.push(Event::Html(
                                format!("<a href=\"#term-{}\">", escaped(&name)).into(),
                            ));
                        }
                        _ => events.push(Event::Html("<a>".into())),
                    }
                }
                Event::End(TagEnd::Link) => events.push(Event::Html("</a>".into())),
                other => events.push(other),
            }
        }
        let mut out = String::new();
        html::push_html(&mut out, events.into_iter());
        Ok(out)
    }

    fn figure(
        &mut self,
        lesson: &Lesson,
        runs: &mut Runs<'_>,
        target: &str,
        words: &str,
    ) -> Result<String, HandoutError> {
        let told = |complaint| of(lesson, complaint);
        let wish = text::picture(target).ok_or_else(|| {
            told(Complaint::Picture {
                target: text::harmless(target),
            })
        })?;
        let ran = runs.get(&wish.run, true).map_err(told)?;
        let drawn = pictures::draw(&wish, &ran, words)?;
        self.n_figures += 1;
        let span = if drawn.span.is_empty() {
            String::new()
        } else {
            format!(" <span>({})</span>", escaped(&drawn.span))
        };
        Ok(format!(
            "<figure{}>{}<figcaption>Figure {}. {}{span}</figcaption></figure>\n",
            if wish.what == text::PictureKind::Machine {
                " class=\"half\""
            } else {
                ""
            },
            drawn.html,
            self.n_figures,
            escaped(words)
        ))
    }
}

fn of(lesson: &Lesson, complaint: Complaint) -> HandoutError {
    HandoutError::Lesson {
        folder: lesson.files.folder.clone(),
        complaint,
    }
}

fn of_condition(lesson: &Lesson) -> impl Fn(ConditionError) -> HandoutError + '_ {
    |error| of(lesson, error.complaint)
}

fn filled(
    lesson: &Lesson,
    runs: &mut Runs<'_>,
    markdown: &str,
    subject: &Subject,
) -> Result<String, HandoutError> {
    runs.fill(markdown, subject)
        .map_err(|(complaint, _)| of(lesson, complaint))
}

/// A text of a task, numbers put in.
fn words_html(
    lesson: &Lesson,
    runs: &mut Runs<'_>,
    markdown: &str,
    subject: &Subject,
) -> Result<String, HandoutError> {
    let filled = filled(lesson, runs, markdown, subject)?;
    let events = text::events(&filled).filter_map(|(event, _)| match event {
        Event::Start(Tag::Link { .. }) | Event::End(TagEnd::Link) => None,
        other => Some(other),
    });
    let mut out = String::new();
    html::push_html(&mut out, events);
    Ok(out)
}

/// The same for a line of a list: without its paragraph.
fn line_html(
    lesson: &Lesson,
    runs: &mut Runs<'_>,
    markdown: &str,
    subject: &Subject,
) -> Result<String, HandoutError> {
    let html = words_html(lesson, runs, markdown, subject)?;
    let html = html.trim();
    Ok(html
        .strip_prefix("<p>")
        .and_then(|html| html.strip_suffix("</p>"))
        .unwrap_or(html)
        .to_owned())
}

fn task_html(
    lesson: &Lesson,
    task: &Task,
    runs: &mut Runs<'_>,
    set: &[Setting],
    number: usize,
) -> Result<String, HandoutError> {
    let subject = subject_of(task, runs, set).map_err(|complaint| of(lesson, complaint))?;
    let mut out = format!(
        "<div class=\"task\">\n<h3>Task {number}</h3>\n{}",
        words_html(lesson, runs, &task.ask, &subject)?
    );
    let lines = |n: usize| format!("<div class=\"lines\">{}</div>\n", "<div></div>".repeat(n));
    match &task.kind {
        TaskKind::Choice(options) => {
            out += "<ol>\n";
            for (idx, option) in options.iter().enumerate() {
                let words = line_html(lesson, runs, &option.text, &subject)?;
                let _ = writeln!(
                    out,
                    "<li><span class=\"box\"></span>{}) {words}</li>",
                    letter(idx)
                );
            }
            out += "</ol>\n";
            out += "<p class=\"small\">Because:</p>";
            out += &lines(2);
        }
        TaskKind::Number { .. } => {
            out += "<p class=\"small\">Your figure with its unit, and how you came to it:</p>";
            out += &lines(3);
        }
        TaskKind::Bench { may_set, .. } => {
            let keys: Vec<String> = may_set
                .iter()
                .map(|key| format!("<code>{}</code>", escaped(key)))
                .collect();
            let _ = write!(
                out,
                "<p class=\"small\">To be set: {}. What you tried, and what came of it:</p>",
                keys.join(", ")
            );
            out += &lines(4);
        }
        TaskKind::Order { items, .. } => {
            out += "<ol>\n";
            for (at, item) in task.shown_order().into_iter().enumerate() {
                let words = line_html(lesson, runs, &items[item], &subject)?;
                let _ = writeln!(
                    out,
                    "<li><span class=\"box\"></span>{}. {words}</li>",
                    at + 1
                );
            }
            out += "</ol>\n<p class=\"small\">Number the boxes from first to last.</p>\n";
        }
    }
    out += "</div>\n";
    Ok(out)
}

/// What stands on the sheet of answers.
fn answers_of(lesson: &Lesson, runs: &mut Runs<'_>) -> Result<String, HandoutError> {
    let number = lesson.number().map_or(String::new(), |n| format!("{n} · "));
    let mut out = format!("<h3>{number}{}</h3>\n<dl>\n", escaped(&lesson.title));
    for (n, task) in in_order(lesson).into_iter().enumerate() {
        let subject = subject_of(task, runs, &[]).map_err(|complaint| of(lesson, complaint))?;
        let right = right_answer(task, runs, &[]).map_err(of_condition(lesson))?;
        let worked = words_html(lesson, runs, &task.worked, &subject)?;
        let _ = writeln!(
            out,
            "<dt>Task {}: {}</dt>\n<dd>{worked}</dd>",
            n + 1,
            escaped(&right)
        );
    }
    out += "</dl>\n";
    Ok(out)
}

/// Tasks as the text shows them.
fn in_order(lesson: &Lesson) -> Vec<&Task> {
    lesson
        .parts
        .iter()
        .filter_map(|part| match part {
            Part::Task(idx) => lesson.tasks.get(*idx),
            Part::Text { .. } => None,
        })
        .collect()
}

/// The key to the students' sheets.
#[derive(Debug, Default)]
struct Key {
    /// Task by task.
    heads: Vec<String>,
    /// Student by student: what was given and what is right.
    rows: Vec<Vec<String>>,
}

impl Key {
    fn put(&mut self, student: u64, head: &str, cell: String) {
        if !self.heads.iter().any(|known| known == head) {
            self.heads.push(head.to_owned());
        }
        let at = usize::try_from(student).unwrap_or(0);
        while self.rows.len() <= at {
            self.rows.push(Vec::new());
        }
        self.rows[at].push(cell);
    }

    fn table(&self, seed: u64) -> String {
        let mut out = format!(
            "<section class=\"key\">\n<h1>Key to the sheets</h1>\n<p class=\"small\">Seed {seed}. Each right figure \
             comes from a run with the figures of that sheet.</p>\n<table>\n<thead><tr><th>Sheet</th>"
        );
        for head in &self.heads {
            let _ = write!(out, "<th>{}</th>", escaped(head));
        }
        out += "</tr></thead>\n<tbody>\n";
        for (idx, row) in self.rows.iter().enumerate() {
            let _ = write!(out, "<tr><td>{}</td>", idx + 1);
            for cell in row {
                let _ = write!(out, "<td>{}</td>", escaped(cell));
            }
            out += "</tr>\n";
        }
        out + "</tbody>\n</table>\n</section>\n"
    }
}

/// The tasks of a lesson whose figures vary, with those of one student.
fn own_tasks(
    lesson: &Lesson,
    runs: &mut Runs<'_>,
    seed: u64,
    student: u64,
    key: &mut Key,
) -> Result<String, HandoutError> {
    let mut out = String::new();
    let number = lesson.number().unwrap_or(0);
    for (n, task) in in_order(lesson).into_iter().enumerate() {
        let TaskKind::Number { vary, .. } = &task.kind else {
            continue;
        };
        if vary.is_empty() {
            continue;
        }
        if out.is_empty() {
            let _ = writeln!(out, "<h2>{}</h2>", escaped(&lesson.title));
        }
        let stream = student * 4096 + u64::from(number) * 16 + n as u64;
        let set = pick(vary, seed, stream);
        out += &task_html(lesson, task, runs, &set, n + 1)?;
        let right = right_answer(task, runs, &set).map_err(of_condition(lesson))?;
        let given: Vec<String> = set
            .iter()
            .map(|(_, value)| match value {
                toml::Value::String(text) => text.clone(),
                other => other.to_string(),
            })
            .collect();
        let head = format!("{}, task {}", lesson.title, n + 1);
        key.put(student, &head, format!("{} → {right}", given.join(", ")));
    }
    Ok(out)
}

/// The terms of the course.
fn glossary_html() -> String {
    let mut out = String::from("<section class=\"glossary\">\n<h1>Glossary</h1>\n");
    let intro = text::events(&course::glossary().intro).map(|(event, _)| event);
    html::push_html(&mut out, intro);
    out += "<dl>\n";
    for term in &course::glossary().terms {
        let (name, heading) = (escaped(&term.name), escaped(&term.heading));
        let _ = write!(out, "<dt id=\"term-{name}\">{heading}</dt><dd>");
        let events = text::events(&term.text).filter_map(|(event, _)| match event {
            Event::Start(Tag::Link { .. }) | Event::End(TagEnd::Link) => None,
            other => Some(other),
        });
        html::push_html(&mut out, events);
        out += "</dd>\n";
    }
    out + "</dl>\n</section>\n"
}
