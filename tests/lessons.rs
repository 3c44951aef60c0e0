//! Lessons: the course is true, a lesson that is not is found out, and one that means harm does
//! none.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt as _;
use html5ever::tendril::TendrilSink as _;
use markup5ever_rcdom::{Handle, NodeData, RcDom};
use wyebench::cli::lesson_files::{FolderError, read_folder};
use wyebench::export::handout::{HandoutError, Options, handout};
use wyebench::lesson::check::{check, n_words};
use wyebench::lesson::text::{self, Target};
use wyebench::lesson::{
    Answer, Complaint, Lesson, LessonFiles, Part, Runs, Subject, TaskKind, WORDS, course, judge,
    parse, right_answer, starter,
};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("lessons")
}

fn lessons() -> Vec<Lesson> {
    course::folders()
        .map(|folder| {
            parse(course::files(folder).unwrap()).unwrap_or_else(|errors| panic!("{errors:?}"))
        })
        .collect()
}

fn lesson(name: &str) -> Lesson {
    course::lesson(name).unwrap().unwrap()
}

// ---- the course ----

/// What is built in is what lies in the folder, and no stray file lies about.
#[test]
fn the_built_in_course_is_the_folder() {
    let mut on_disk = BTreeMap::new();
    for entry in fs::read_dir(root()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if path.is_dir() {
            on_disk.insert(name, read_folder(&path).unwrap());
        } else {
            assert!(
                ["README.md", "glossary.md"].contains(&name.as_str()),
                "{name}"
            );
        }
    }
    let built_in: BTreeMap<String, LessonFiles> = course::folders()
        .map(|name| (name.to_owned(), course::files(name).unwrap()))
        .collect();
    assert_eq!(built_in, on_disk);
    assert!(course::folders().is_sorted(), "in the order of the course");
}

/// Starts fail, answers pass, replies are got, claims hold, links lead somewhere, every number
/// has its run: what `wyebench lesson check` checks.
#[test]
fn every_lesson_is_true() {
    for lesson in lessons() {
        let checked = check(&lesson).unwrap_or_else(|errors| {
            let all: Vec<String> = errors.problems().iter().map(ToString::to_string).collect();
            panic!("{}: {}", lesson.files.folder, all.join("; "))
        });
        assert!((WORDS.0..=WORDS.1).contains(&checked.n_words));
        assert!(checked.n_tasks >= 3 && checked.n_numbers >= 2 && checked.n_claims >= 5);
    }
}

/// The same once more without the checker: each answer of the lesson passes, each start and each
/// example of a mistake fails and gets its words.
#[test]
fn answers_pass_and_starts_fail() {
    let mut n_tasks = 0;
    for lesson in lessons() {
        let mut runs = Runs::new(&lesson);
        for task in &lesson.tasks {
            let name = format!("{}, {}", lesson.files.folder, task.name);
            let mut passes = |answer: &Answer| judge(task, answer, &mut runs, &[]).unwrap();
            match &task.kind {
                TaskKind::Choice(options) => {
                    let right = (0..options.len())
                        .filter(|idx| passes(&Answer::Choice(*idx)).passed)
                        .count();
                    assert_eq!(right, 1, "{name}");
                    assert!(
                        options.iter().all(|option| !option.reply.is_empty()),
                        "{name}"
                    );
                }
                TaskKind::Number { answer, .. } => {
                    assert!(
                        passes(&Answer::parse(task, &[answer]).unwrap()).passed,
                        "{name}"
                    );
                }
                TaskKind::Bench { answer, .. } => {
                    assert!(!passes(&Answer::Set(Vec::new())).passed, "{name}");
                    assert!(passes(&Answer::Set(answer.clone())).passed, "{name}");
                }
                TaskKind::Order { items, .. } => {
                    assert!(!passes(&Answer::Order(task.shown_order())).passed, "{name}");
                    assert!(
                        passes(&Answer::Order((0..items.len()).collect())).passed,
                        "{name}"
                    );
                }
            }
            for reply in &task.replies {
                let verdict = passes(&reply.example);
                assert!(!verdict.passed && verdict.reply.is_some(), "{name}");
            }
            assert!(task.hints.iter().all(|hint| hint.len() > 10), "{name}");
            assert_ne!(task.hints[0], task.hints[1], "{name}");
            assert!(!task.worked.is_empty(), "{name}");
            n_tasks += 1;
        }
    }
    assert!(n_tasks >= 33, "{n_tasks} tasks");
}

/// A prediction comes before anything else is shown, a what-if ends the lesson, and hands are
/// warned.
#[test]
fn every_lesson_has_its_shape() {
    for lesson in lessons() {
        let folder = &lesson.files.folder;
        let first_task = lesson
            .parts
            .iter()
            .position(|part| matches!(part, Part::Task(_)));
        let before = lesson.parts.iter().take(first_task.unwrap());
        let n_before: usize = before
            .map(|part| match part {
                Part::Text { markdown, .. } => {
                    assert!(text::pictures(markdown).is_empty(), "{folder}");
                    text::n_words(markdown)
                }
                Part::Task(_) => 0,
            })
            .sum();
        assert!(
            n_before < 60,
            "{folder}: {n_before} words before the prediction"
        );
        let Some(Part::Text { markdown, .. }) = lesson.parts.last() else {
            panic!("{folder} ends with a task")
        };
        assert!(markdown.contains("## What if"), "{folder}");
        assert!(markdown.contains("> **Caution.**"), "{folder}");
        assert!(n_words(&lesson) >= WORDS.0);
    }
}

/// Every lesson points at something of the bench, and says which plot it speaks of.
#[test]
fn every_lesson_points() {
    for lesson in lessons() {
        let folder = &lesson.files.folder;
        let n_pointers: usize = lesson
            .parts
            .iter()
            .map(|part| match part {
                Part::Text { markdown, .. } => text::links(markdown)
                    .iter()
                    .filter(|(target, _)| matches!(target, text::Target::See(_)))
                    .count(),
                Part::Task(_) => 0,
            })
            .sum();
        assert!(n_pointers >= 1, "{folder}");
        assert!(lesson.plot.is_some(), "{folder}");
    }
}

/// Each term of the glossary is defined by one lesson, the one that the glossary names, and is
/// linked there.
#[test]
fn every_term_is_defined_once() {
    let glossary = course::glossary();
    let mut defined = BTreeSet::new();
    for lesson in lessons() {
        let linked: BTreeSet<Target> = lesson
            .parts
            .iter()
            .filter_map(|part| match part {
                Part::Text { markdown, .. } => Some(text::links(markdown)),
                Part::Task(_) => None,
            })
            .flatten()
            .map(|(target, _)| target)
            .collect();
        let number = lesson.number().unwrap();
        assert!(!lesson.terms.is_empty());
        for name in &lesson.terms {
            assert!(defined.insert(name.clone()), "{name} is defined twice");
            assert!(
                linked.contains(&Target::Term(name.clone())),
                "{name} in lesson {number}"
            );
            let term = glossary.term(name).unwrap();
            assert!(
                term.text.contains(&format!("(Lesson {number}.")),
                "{name}: {}",
                term.text
            );
        }
    }
    let all: BTreeSet<String> = glossary
        .terms
        .iter()
        .map(|term| term.name.clone())
        .collect();
    assert_eq!(all, defined);
}

/// 100 Hz and four pole pairs give 1500 rpm (60 f / p, a definition), and the text says so
/// because the run does: with another clock the text has another number.
#[test]
fn numbers_in_the_text_are_those_of_the_run() {
    let page = |files: LessonFiles| {
        let lesson = parse(files).unwrap();
        let mut runs = Runs::new(&lesson);
        let mut page = String::new();
        for part in &lesson.parts {
            if let Part::Text { markdown, .. } = part {
                page += &runs.fill(markdown, &Subject::default()).unwrap();
            }
        }
        page
    };
    let mut files = course::files("04-poles").unwrap();
    let before = page(files.clone());
    assert!(
        before.contains("| 8 | 4 | 100\u{a0}Hz | 1500\u{a0}rpm |"),
        "{before}"
    );
    let setup = files.texts.get_mut("trolley.toml").unwrap();
    *setup = setup.replace("frequency = \"100 Hz\"", "frequency = \"60 Hz\"");
    let after = page(files);
    assert!(
        after.contains("| 8 | 4 | 60\u{a0}Hz | 900.0\u{a0}rpm |"),
        "{after}"
    );
}

// ---- the checker finds what is not so ----

/// The lesson on poles with one text in its lesson.md replaced.
fn poles_with(from: &str, to: &str) -> LessonFiles {
    let mut files = course::files("04-poles").unwrap();
    let text = files.texts.get_mut("lesson.md").unwrap();
    assert!(text.contains(from), "{from}");
    *text = text.replacen(from, to, 1);
    files
}

/// Everything that is wrong with it, in words.
fn complaints(files: LessonFiles) -> String {
    let errors = match parse(files) {
        Err(errors) => errors,
        Ok(lesson) => match check(&lesson) {
            Err(errors) => errors,
            Ok(checked) => return format!("nothing: {checked:?}"),
        },
    };
    let said = |problem: &wyebench::lesson::LessonProblem| {
        format!(
            "{problem} {}",
            problem.complaint.remedy().unwrap_or_default()
        )
    };
    errors
        .problems()
        .iter()
        .map(said)
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn what_is_not_true_is_found() {
    for (from, to, wanted) in [
        (
            "answer = { \"machine.poles\" = 8 }",
            "answer = { \"machine.poles\" = 10 }",
            "its own answer does not pass",
        ),
        (
            "check = \"mean_speed_rpm = 1500 rpm within 1 % and in_step\"",
            "check = \"mean_speed_rpm > 1000 rpm\"",
            "solved before the reader",
        ),
        (
            "answer = \"857 rpm\"",
            "answer = \"900 rpm\"",
            "its own answer does not pass",
        ),
        (
            "holds = \"eight.mean_speed_rpm = 0.5 * four.mean_speed_rpm within 2 %\"",
            "right = false",
            "none of its choices is right",
        ),
        (
            "holds = \"eight.mean_speed_rpm = 2 * four.mean_speed_rpm within 2 %\"",
            "right = true",
            "more than one choice",
        ),
        (
            "try = \"429 rpm\"",
            "try = \"857 rpm\"",
            "the wrong answer of reply 1 passes",
        ),
        (
            "try = \"429 rpm\"",
            "try = \"5 rpm\"",
            "the wrong answer of reply 1 gets another one",
        ),
        (
            "free-four.mean_speed_rpm within 1 %",
            "2 * free-four.mean_speed_rpm within 1 %",
            "the claim does not hold",
        ),
        ("{{task count-the-magnets}}", "", "does not show the task"),
        (
            "{{task count-the-magnets}}",
            "{{task count-the-magnet}}",
            "did you mean `count-the-magnets`",
        ),
        (
            "hints = [\n    \"Count pairs, not magnets.\",",
            "hints = [",
            "does not have two hints",
        ),
        (
            "[pole](term:pole)",
            "[pole](term:polee)",
            "the glossary has no term `polee`",
        ),
        (
            "{{four.pole_pairs}}",
            "{{four.pole_pair}}",
            "did you mean `pole_pairs`",
        ),
        (
            "{{four.pole_pairs}}",
            "{{fore.pole_pairs}}",
            "no figure, key or channel",
        ),
        ("machine:four)", "machine:fore)", "there is no run \"fore\""),
        ("machine:four)", "machine:four@9s@)", "no picture of a run"),
        (
            "setup = \"trolley.toml\"",
            "setup = \"troley.toml\"",
            "did you mean `trolley.toml`",
        ),
        (
            "with = { \"machine.poles\" = 8, ",
            "with = { \"machine.pole\" = 8, ",
            "did you mean `machine.poles`",
        ),
        (
            "with = { \"machine.poles\" = 8, ",
            "with = { \"machine.poles\" = 9, ",
            "setup `trolley.toml` cannot be used",
        ),
        ("format = 1", "format = 2", "format 2 is not known"),
        ("idea = ", "ideas = ", "unknown field `ideas`"),
        ("+++\nformat", "format", "front matter is missing"),
        (
            "four.mean_speed_rpm = rpm(",
            "four.mean_speed_rpm = 3 A + rpm(",
            "cannot be added to",
        ),
        (
            "name = \"eight\"",
            "name = \"four\"",
            "two runs of the name \"four\"",
        ),
    ] {
        let got = complaints(poles_with(from, to));
        assert!(got.contains(wanted), "{from} → {to}: {got}");
    }
    let mut stray = course::files("04-poles").unwrap();
    stray
        .texts
        .insert("other.toml".to_owned(), "format = 1\n".to_owned());
    assert!(complaints(stray).contains("`other.toml` belongs to no run"));
}

/// A lesson to start from reads, runs, and lacks nothing but its words.
#[test]
fn a_new_lesson_lacks_only_words() {
    let files = LessonFiles {
        folder: "mine".to_owned(),
        texts: starter("Mine \"quoted\"")
            .into_iter()
            .map(|(name, text)| (name.to_owned(), text))
            .collect(),
    };
    let lesson = parse(files.clone()).unwrap();
    assert_eq!(lesson.title, "Mine \"quoted\"");
    let errors = check(&lesson).unwrap_err();
    assert_eq!(errors.problems().len(), 1, "{:?}", errors.problems());
    assert!(matches!(
        errors.problems()[0].complaint,
        Complaint::Words { .. }
    ));
}

// ---- hostile lessons ----

#[test]
fn paths_out_of_the_folder_are_refused() {
    for name in [
        "../04-poles/trolley.toml",
        "/etc/passwd",
        "..\\\\trolley.toml",
        "sub/trolley.toml",
        "trolley.toml/",
        "C:trolley.toml",
        "~/trolley.toml",
        "TROLLEY.toml",
        ".toml",
        "-x.toml",
        "trolley.TOML",
    ] {
        let got = complaints(poles_with(
            "setup = \"trolley.toml\"",
            &format!("setup = \"{name}\""),
        ));
        assert!(
            got.contains("cannot be a setup of a lesson"),
            "{name}: {got}"
        );
    }
    for target in [
        "http://example.invalid/x",
        "https://example.invalid/x",
        "//example.invalid",
        "javascript:alert(1)",
        "data:text/html,x",
        "file:///etc/passwd",
        "../glossary.md",
        "lesson:../x",
        "term:",
    ] {
        let got = complaints(poles_with(
            "[pole](term:pole)",
            &format!("[pole]({target})"),
        ));
        assert!(got.contains("leads out of the lesson"), "{target}: {got}");
        let got = complaints(poles_with("](machine:four)", &format!("]({target})")));
        assert!(got.contains("no picture of a run"), "{target}: {got}");
    }
    // a reference and an address in angle brackets are links too
    for link in [
        "<http://example.invalid/>",
        "[x][y]\n\n[y]: http://example.invalid/\n",
    ] {
        let got = complaints(poles_with(
            "## What is counted",
            &format!("## What is counted\n\n{link}"),
        ));
        assert!(got.contains("leads out of the lesson"), "{link}: {got}");
    }
}

#[test]
fn what_is_too_much_is_refused() {
    let big = "word ".repeat(40_000);
    assert!(complaints(poles_with("## What is counted", &big)).contains("too long"));
    let mut many = course::files("04-poles").unwrap();
    for n in 0..40 {
        many.texts.insert(format!("s{n}.toml"), String::new());
    }
    assert!(complaints(many).contains("files are too many"));
    let mut setup = course::files("04-poles").unwrap();
    setup
        .texts
        .insert("trolley.toml".to_owned(), "# \n".repeat(50_000));
    assert!(complaints(setup).contains("too long"));
    let runs: String = (0..30)
        .map(|n| format!("[[run]]\nname = \"r{n}\"\nsetup = \"trolley.toml\"\n"))
        .collect();
    assert!(
        complaints(poles_with("[[task]]", &format!("{runs}[[task]]")))
            .contains("runs are too many")
    );
    let condition = format!("\"{}four.in_step\"", "four.in_step and ".repeat(2_000));
    let got = complaints(poles_with(
        "\"four.in_step and eight.in_step and fourteen.in_step\"",
        &condition,
    ));
    assert!(got.contains("too long"), "{got}");
    let condition = format!("\"{}four.in_step{}\"", "(".repeat(200), ")".repeat(200));
    let got = complaints(poles_with(
        "\"four.in_step and eight.in_step and fourteen.in_step\"",
        &condition,
    ));
    assert!(got.contains("nested too deeply"), "{got}");
}

/// Nested Markdown and TOML of every kind come to an end, quickly.
#[test]
fn deep_nesting_ends() {
    let started = std::time::Instant::now();
    for (nested, refused) in [
        (">".repeat(50_000), true),
        (format!("{}x", "- ".repeat(25_000)), true),
        (format!("{}x", "1. ".repeat(15_000)), true),
        ("{{".repeat(25_000), true),
        ("![".repeat(25_000), false),
        ("[a](".repeat(12_000), false),
        ("[".repeat(50_000), false),
        ("*a_".repeat(16_000), false),
        ("`".repeat(50_000), false),
        ("<div>".repeat(10_000), false),
        ("|".repeat(50_000), false),
        ("|a\n|-\n".repeat(8_000), false),
    ] {
        let got = complaints(poles_with("## What is counted", &nested));
        // refused, or so much text without meaning
        assert!(
            !(refused && got.starts_with("nothing")),
            "{}",
            &nested[..12]
        );
    }
    for value in ["[".repeat(30_000), "{a=".repeat(15_000)] {
        let got = complaints(poles_with(
            "terms = [",
            &format!("extra = {value}\nterms = ["),
        ));
        assert!(!got.starts_with("nothing"), "{}", &value[..12]);
    }
    assert!(started.elapsed().as_secs() < 60, "{:?}", started.elapsed());
}

/// A run is limited in time, in pieces, in samples, in slots; one that diverges is told.
#[test]
fn runs_are_limited() {
    let with = |from: &str, to: &str| {
        let mut files = course::files("04-poles").unwrap();
        let setup = files.texts.get_mut("trolley.toml").unwrap();
        assert!(setup.contains(from));
        *setup = setup.replacen(from, to, 1);
        complaints(files)
    };
    for (from, to) in [
        ("duration = \"1.2 s\"", "duration = \"1000 s\""),
        ("frequency = \"20 kHz\"", "frequency = \"1 MHz\""),
        ("sample = \"50 us\"", "sample = \"1 us\""),
    ] {
        let got = with(from, to);
        assert!(got.contains("too long for a lesson"), "{to}: {got}");
    }
    let got = complaints(poles_with(
        "with = { \"machine.poles\" = 8, ",
        "with = { \"machine.slots\" = 600, \"machine.poles\" = 500, ",
    ));
    assert!(got.contains("120 of each"), "{got}");
}

#[test]
fn hidden_characters_are_refused() {
    for hidden in [
        "\u{1b}[31m",
        "\u{0}",
        "\u{7}",
        "\u{8}",
        "\u{202e}",
        "\u{2066}",
        "\u{200b}",
        "\u{feff}",
        "\rx",
        "\u{9b}",
        "\u{e0041}",
    ] {
        let got = complaints(poles_with(
            "## What is counted",
            &format!("## What {hidden} is counted"),
        ));
        assert!(got.contains("invisible character"), "{hidden:?}: {got}");
        let mut files = course::files("04-poles").unwrap();
        files
            .texts
            .get_mut("trolley.toml")
            .unwrap()
            .insert_str(0, &format!("# {hidden}\n"));
        assert!(
            complaints(files).contains("invisible character"),
            "{hidden:?}"
        );
    }
    // an escape of TOML brings them past the file; they are taken out where they are shown
    let lesson = parse(poles_with(
        "title = \"Poles: more magnets, slower on the same clock\"",
        "title = \"Poles \\u001b[2J\\u202e\"",
    ))
    .unwrap();
    let page = handout(&[lesson], Options::default()).unwrap();
    assert!(page.contains("Poles [2J<") && !page.contains(['\u{1b}', '\u{202e}']));
}

/// HTML is text, wherever a lesson puts it.
#[test]
fn html_is_text() {
    const EVIL: &str = "<script>alert(1)</script><img src=x onerror=alert(2)>";
    let quoted = EVIL.replace('"', "\\\"");
    for (from, to) in [
        ("## What is counted", format!("## What is counted {EVIL}")),
        (
            "## What is counted",
            format!("{EVIL}\n\n<div onclick=\"x()\">\n\nblock\n\n</div>\n"),
        ),
        ("title = \"Poles", format!("title = \"{quoted} Poles")),
        ("idea = \"One", format!("idea = \"{quoted} One")),
        ("ask = \"The clock", format!("ask = \"{quoted} The clock")),
        ("text = \"twice as fast\"", format!("text = \"{quoted}\"")),
        ("worked = \"Four", format!("worked = \"{quoted} Four")),
        (
            "![Four poles",
            format!("![{} \\\" onload=\\\"x() Four poles", EVIL),
        ),
    ] {
        let lesson = parse(poles_with(from, &to))
            .unwrap_or_else(|errors| panic!("{to}: {:?}", errors.problems()));
        let page = handout(&[lesson], Options::default()).unwrap();
        let seen = look_at(&page);
        assert_eq!(seen.errors, Vec::<String>::new(), "{to}");
        assert!(
            !seen.names.contains("script") && seen.events.is_empty(),
            "{to}: {:?}",
            seen.events
        );
        assert!(
            seen.text.contains("alert(") || to.contains("![") || to.contains("worked"),
            "{to}"
        );
    }
    let mut files = course::files("04-poles").unwrap();
    let setup = files.texts.get_mut("trolley.toml").unwrap();
    *setup = setup.replacen("title = \"", &format!("title = \"{quoted}"), 1);
    let text = files.texts.get_mut("lesson.md").unwrap();
    *text = text.replacen("## What is counted", "## {{four.title}}", 1);
    // `title` is no quantity, and quoted as it is written
    let page = handout(&[parse(files).unwrap()], Options::default()).unwrap();
    assert!(page.contains("&lt;script&gt;") && !page.contains("<script>"));
}

// ---- handouts ----

/// What a parser of HTML sees in a page.
#[derive(Debug, Default)]
struct Seen {
    errors: Vec<String>,
    names: BTreeSet<String>,
    /// `src`, `href` and the like.
    addresses: Vec<String>,
    /// Attributes that run something.
    events: Vec<String>,
    ids: Vec<String>,
    n_images: usize,
    text: String,
}

fn look_at(page: &str) -> Seen {
    let dom: RcDom = html5ever::parse_document(RcDom::default(), Default::default()).one(page);
    let mut seen = Seen {
        errors: dom
            .errors
            .borrow()
            .iter()
            .map(ToString::to_string)
            .collect(),
        ..Seen::default()
    };
    walk(&dom.document, &mut seen);
    seen
}

fn walk(node: &Handle, seen: &mut Seen) {
    match &node.data {
        NodeData::Element { name, attrs, .. } => {
            seen.names.insert(name.local.to_string());
            seen.n_images += usize::from(&*name.local == "img");
            for attribute in attrs.borrow().iter() {
                let (key, value) = (
                    attribute.name.local.to_string(),
                    attribute.value.to_string(),
                );
                match key.as_str() {
                    "src" | "href" | "action" | "srcset" | "data" | "poster" | "background" => {
                        seen.addresses.push(value);
                    }
                    "id" => seen.ids.push(value),
                    _ if key.starts_with("on") || key == "style" => seen.events.push(key),
                    _ => {}
                }
            }
        }
        NodeData::Text { contents } => {
            seen.text.push_str(&contents.borrow());
            seen.text.push(' ');
        }
        _ => {}
    }
    for child in node.children.borrow().iter() {
        walk(child, seen);
    }
}

#[test]
fn a_handout_needs_nothing_beside_it() {
    let lessons = lessons();
    let options = Options {
        students: 3,
        seed: 7,
    };
    let page = handout(&lessons, options).unwrap();
    let seen = look_at(&page);
    assert_eq!(seen.errors, Vec::<String>::new());
    assert!(seen.n_images >= 25, "{} pictures", seen.n_images);
    for address in &seen.addresses {
        let inside = address
            .strip_prefix('#')
            .is_some_and(|id| seen.ids.iter().any(|known| known == id));
        let picture = address.starts_with("data:image/svg+xml;base64,");
        assert!(inside || picture, "{}", &address[..address.len().min(80)]);
    }
    assert!(seen.events.is_empty(), "{:?}", seen.events);
    let lower = page.to_lowercase();
    for word in [
        "http", "url(", "@import", "<script", "<link", "<iframe", "<object", "{{", "nan",
    ] {
        let at = lower.find(word);
        let around = at.map(|at| {
            page[at.saturating_sub(30)..]
                .chars()
                .take(80)
                .collect::<String>()
        });
        // three letters turn up by chance in the data of a picture
        assert!(at.is_none() || word == "nan", "{word}: {around:?}");
    }
    assert!(!seen.text.contains("NaN"));
    // the answers come after every task, and the key after the answers
    let last_task = page.rfind("class=\"task\"").unwrap();
    let answers = page.find("class=\"answers\"").unwrap();
    let key = page.find("class=\"key\"").unwrap();
    assert!(last_task < answers && answers < key);
    for n in 1..=3 {
        assert!(seen.text.contains(&format!("Sheet {n}")));
    }
    assert!(!seen.text.contains("Sheet 4"));
}

/// The same seed gives the same page, another gives other figures, and the key is what the run
/// with those figures says.
#[test]
fn sheets_have_figures_of_their_own() {
    let lessons = [lesson("poles")];
    let page = |seed| {
        let options = Options { students: 8, seed };
        handout(&lessons, options).unwrap()
    };
    assert_eq!(page(1), page(1));
    assert_ne!(page(1), page(2));
    let text = look_at(&page(1)).text;
    let key = &text[text.find("Key to the sheets").unwrap()..];
    let rows: Vec<(f64, f64)> = key
        .split("Hz → ")
        .collect::<Vec<_>>()
        .windows(2)
        .map(|pair| {
            // the digit before the frequency is the end of what came before, on a line of its own
            let hertz: f64 = pair[0]
                .trim()
                .rsplit(char::is_whitespace)
                .next()
                .unwrap()
                .parse()
                .unwrap();
            let rpm = pair[1].split('\u{a0}').next().unwrap().parse().unwrap();
            (hertz, rpm)
        })
        .collect();
    assert_eq!(rows.len(), 8, "{key}");
    for (hertz, rpm) in &rows {
        // 60 f / p, printed with four digits
        assert!((rpm - 60.0 * hertz / 7.0).abs() < 0.51, "{hertz} Hz: {rpm}");
    }
    assert!(
        rows.iter().any(|row| row.0 != rows[0].0),
        "all alike: {rows:?}"
    );
    let none = handout(
        &[lesson("six-steps")],
        Options {
            students: 2,
            seed: 1,
        },
    );
    assert!(matches!(none, Err(HandoutError::NothingVaries)));
    let many = handout(
        &lessons,
        Options {
            students: 1000,
            seed: 1,
        },
    );
    assert!(matches!(
        many,
        Err(HandoutError::TooManyStudents { asked: 1000 })
    ));
}

// ---- answers ----

#[test]
fn an_answer_gets_its_words() {
    let lesson = lesson("poles");
    let mut runs = Runs::new(&lesson);
    let mut say = |task: &str, answer: &[&str]| {
        let task = lesson.task(task).unwrap();
        let answer = Answer::parse(task, answer).unwrap();
        judge(task, &answer, &mut runs, &[]).unwrap()
    };
    assert!(say("more-magnets", &["c"]).passed);
    assert!(
        say("more-magnets", &["A"])
            .reply
            .unwrap()
            .contains("More magnets do not")
    );
    assert!(say("speed-of-fourteen", &["857.1 rpm"]).passed);
    assert!(
        say("speed-of-fourteen", &["14.28 1/s"]).passed,
        "another unit of speed"
    );
    assert!(
        say("speed-of-fourteen", &["428 rpm"])
            .reply
            .unwrap()
            .contains("divide by 7")
    );
    assert!(say("count-the-magnets", &["machine.poles=8"]).passed);
    let ten = say("count-the-magnets", &["machine.poles = 10"]);
    assert!(
        ten.reply.unwrap().contains("1200\u{a0}rpm"),
        "{}",
        ten.found
    );
    let task = lesson.task("speed-of-fourteen").unwrap();
    for bad in [
        "",
        "fast",
        "857 A A",
        "NaN rpm",
        "inf",
        "1e999 rpm",
        "1,857",
        "85,7,1",
        "857,",
    ] {
        assert!(Answer::parse(task, &[bad]).is_err(), "{bad}");
    }
    // asked for rpm, a bare number has that unit; a decimal may have a comma
    for right in [
        "857",
        "857 rpm",
        "857 RPM",
        "857,1",
        "857,14 rpm",
        "0,857e3",
    ] {
        let answer =
            Answer::parse(task, &[right]).unwrap_or_else(|error| panic!("{right}: {error}"));
        let verdict = judge(task, &answer, &mut Runs::new(&lesson), &[]).unwrap();
        assert!(verdict.passed, "{right}");
    }
    // rpm cannot be compared with amperes
    let amps = Answer::parse(task, &["857 A"]).unwrap();
    assert!(judge(task, &amps, &mut Runs::new(&lesson), &[]).is_err());
    // keys that are not the reader's
    let task = lesson.task("count-the-magnets").unwrap();
    let other = Answer::parse(task, &["drive.forced.frequency=50 Hz"]).unwrap();
    assert!(judge(task, &other, &mut Runs::new(&lesson), &[]).is_err());
    let set = [("drive.forced.frequency".to_owned(), "70 Hz".into())];
    let task = lesson.task("speed-of-fourteen").unwrap();
    let right = right_answer(task, &mut Runs::new(&lesson), &set).unwrap();
    assert_eq!(right, "600.0\u{a0}rpm");
}

// ---- the command line ----

struct Got {
    status: i32,
    out: String,
    err: String,
}

fn wyebench(folder: &Path, arguments: &[&str]) -> Got {
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .arg("lesson")
        .args(arguments)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    Got {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

#[test]
fn the_course_is_there_wherever_the_program_runs() {
    let folder = tempfile::tempdir().unwrap();
    let got = wyebench(folder.path(), &["list"]);
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    for name in course::folders() {
        assert!(got.out.contains(name), "{name}");
    }
    let read = wyebench(folder.path(), &["read", "4", "--hints", "1"]);
    assert_eq!(read.status, 0, "{}", read.err);
    assert!(
        read.out
            .contains("Poles: more magnets, slower on the same clock")
            && read.out.contains("Hint 1")
    );
    assert!(
        !read.out.contains("Hint 2") && !read.out.contains("Answer:") && !read.out.contains("{{")
    );
    let answers = wyebench(folder.path(), &["read", "poles", "--answers"]);
    assert!(answers.out.contains("Hint 2") && answers.out.contains("Answer:"));
    let runs = wyebench(folder.path(), &["run", "poles"]);
    assert!(
        runs.out.contains("eight: trolley.toml with"),
        "{}",
        runs.out
    );
    let run = wyebench(folder.path(), &["run", "poles", "four"]);
    assert!(run.out.contains("3000"), "{}", run.out);
    let wrote = wyebench(
        folder.path(),
        &["run", "poles", "four", "--setup", "mine.toml"],
    );
    assert_eq!(wrote.status, 0, "{}", wrote.err);
    let again = wyebench(
        folder.path(),
        &["run", "poles", "four", "--setup", "mine.toml"],
    );
    assert_eq!(again.status, 2, "an existing setup is not overwritten");
    let task = ["check", "poles", "--task", "count-the-magnets"];
    let not_yet = wyebench(
        folder.path(),
        &[&task[..], &["--setup", "mine.toml"]].concat(),
    );
    assert_eq!((not_yet.status, &not_yet.out[..7]), (1, "not yet"));
    let mine = fs::read_to_string(folder.path().join("mine.toml")).unwrap();
    let eight = mine.replace("poles = 4 ", "poles = 8 ");
    fs::write(folder.path().join("mine.toml"), &eight).unwrap();
    let right = wyebench(
        folder.path(),
        &[&task[..], &["--setup", "mine.toml"]].concat(),
    );
    assert_eq!(
        (right.status, &right.out[..5]),
        (0, "right"),
        "{}",
        right.err
    );
    fs::write(
        folder.path().join("mine.toml"),
        eight.replace("\"18 V\"", "\"19 V\""),
    )
    .unwrap();
    let other = wyebench(
        folder.path(),
        &[&task[..], &["--setup", "mine.toml"]].concat(),
    );
    assert_eq!(other.status, 2);
    assert!(other.err.contains("supply.voltage"), "{}", other.err);
}

#[test]
fn new_never_overwrites_and_check_says_where() {
    let folder = tempfile::tempdir().unwrap();
    let got = wyebench(folder.path(), &["new", "warm-motor"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let text = folder.path().join("warm-motor/lesson.md");
    let written = fs::read_to_string(&text).unwrap();
    assert!(written.contains("title = \"Warm motor\""));
    fs::write(
        &text,
        written.replace("> 1.3 * start.mean", "> 1.9 * start.mean"),
    )
    .unwrap();
    let again = wyebench(folder.path(), &["new", "warm-motor"]);
    assert_eq!(again.status, 2);
    assert!(again.err.contains("stays as it is"), "{}", again.err);
    let checked = wyebench(folder.path(), &["check", "warm-motor"]);
    assert_eq!(checked.status, 2);
    for words in [
        "warm-motor/lesson.md:10:",
        "the claim does not hold",
        "help: correct the claim",
    ] {
        assert!(checked.err.contains(words), "{words}: {}", checked.err);
    }
    for name in ["../x", "a/b", "", "Upper", "-x", ".", "x y"] {
        let got = wyebench(folder.path(), &["new", "--", name]);
        assert_eq!(got.status, 2, "{name}");
    }
    let handout = wyebench(
        folder.path(),
        &["handout", "warm-motor", "--output", "out.html"],
    );
    assert_eq!((handout.status, handout.err.as_str()), (0, ""));
    assert!(
        fs::read_to_string(folder.path().join("out.html"))
            .unwrap()
            .ends_with("</html>\n")
    );
    let wrong = wyebench(folder.path(), &["handout", "4", "--output", "out.pdf"]);
    assert_eq!(wrong.status, 2);
    let none = wyebench(folder.path(), &["check", "nowhere"]);
    assert!(
        none.status == 2 && none.err.contains("lesson list"),
        "{}",
        none.err
    );
}

/// A folder is read as far as a lesson goes: no links, no folders, nothing large.
#[test]
fn a_folder_is_read_with_care() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("l");
    let fresh = || {
        let _ = fs::remove_dir_all(&path);
        fs::create_dir(&path).unwrap();
        for (name, text) in starter("L") {
            fs::write(path.join(name), text).unwrap();
        }
    };
    fresh();
    assert!(read_folder(&path).is_ok());
    fs::write(path.join("notes.txt"), "x").unwrap();
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::Foreign { .. })
    ));
    fresh();
    fs::create_dir(path.join("sub.toml")).unwrap();
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::Foreign {
            what: "a folder",
            ..
        })
    ));
    fresh();
    fs::write(path.join("big.toml"), vec![b' '; 4 << 20]).unwrap();
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::TooLarge {
            n_bytes: 4_194_304,
            ..
        })
    ));
    fresh();
    fs::write(path.join("raw.toml"), [0xff, 0xfe]).unwrap();
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::NotText { .. })
    ));
    fresh();
    for n in 0..40 {
        fs::write(path.join(format!("s{n}.toml")), "").unwrap();
    }
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::TooMany { .. })
    ));
    fresh();
    fs::remove_file(path.join("lesson.md")).unwrap();
    assert!(matches!(
        read_folder(&path),
        Err(FolderError::NoText { .. })
    ));
    assert!(matches!(
        read_folder(&path.join("start.toml")),
        Err(FolderError::NotAFolder { .. })
    ));
    #[cfg(unix)]
    {
        fresh();
        std::os::unix::fs::symlink("/etc/hostname", path.join("out.toml")).unwrap();
        assert!(matches!(
            read_folder(&path),
            Err(FolderError::Foreign { what: "a link", .. })
        ));
        fresh();
        fs::remove_file(path.join("lesson.md")).unwrap();
        std::os::unix::fs::symlink("/etc/hostname", path.join("lesson.md")).unwrap();
        assert!(matches!(
            read_folder(&path),
            Err(FolderError::Foreign { what: "a link", .. })
        ));
    }
}
