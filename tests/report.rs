//! Curves, and reports of a prediction, a check and a capture: what is on them is so, and a page needs
//! nothing beside it.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt as _;
use html5ever::tendril::TendrilSink as _;
use markup5ever_rcdom::{Handle, NodeData, RcDom};
use wyebench::predict::{Build, Regime, confirm, example_build, predict};
use wyebench::readings::example_sheet;
use wyebench::scene::curves::{build_curves, curves};
use wyebench::scene::{Scene, Shape, Theme};

fn example(change: impl Fn(&mut Build)) -> Build {
    let mut build = Build::parse(example_build(), "example").unwrap();
    change(&mut build);
    build
}

fn words(scene: &Scene) -> Vec<&str> {
    scene
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.as_str()),
            _ => None,
        })
        .collect()
}

fn n_dashed(scene: &Scene) -> usize {
    let dashed = |shape: &&Shape| matches!(shape, Shape::Line { dash: Some(_), .. });
    scene.shapes.iter().filter(dashed).count()
}

/// Marks are where the prediction is, and everything lies within the picture.
#[test]
fn curves_show_the_points_of_the_prediction() {
    let build = example(|_| {});
    let prediction = predict(&build).unwrap();
    let confirmed = confirm(&build, &prediction.loaded).unwrap();
    let view = build_curves(&build, &prediction, Some(&confirmed)).unwrap();
    let [torque, duty] = &view.panels[..] else {
        panic!("two panels")
    };
    let names: Vec<&str> = torque.marks.iter().map(|mark| mark.name).collect();
    assert_eq!(
        names,
        [
            "operating point",
            "best efficiency",
            "most power",
            "simulated"
        ]
    );
    let operating = &torque.marks[0];
    assert!((operating.x - 1e3 * prediction.loaded.shaft_nm).abs() < 1e-9);
    assert!((operating.values[1] - prediction.loaded.motor_current_a).abs() < 1e-12);
    // the curve goes through the point: its neighbours hold it between them
    for (strip, value) in torque.strips.iter().zip(&operating.values) {
        let samples: Vec<_> = strip.curve.iter().flatten().collect();
        let at = samples.iter().position(|s| s.x >= operating.x).unwrap();
        let (a, b) = (samples[at - 1], samples[at]);
        let share = (operating.x - a.x) / (b.x - a.x);
        let between = a.y + share * (b.y - a.y);
        assert!(
            (between - value).abs() < 2e-3 * value.abs(),
            "{}: {between} {value}",
            strip.name
        );
    }
    // efficiency and power are at their tops where the marks say
    let top = |at: usize, row: usize| {
        let curve = torque.strips[row].curve.iter().flatten();
        let highest = curve.map(|s| s.y).fold(0.0, f64::max);
        assert!(
            highest <= torque.marks[at].values[row] * 1.0005,
            "{at} {row}"
        );
    };
    top(1, 2);
    top(2, 3);
    assert!((duty.marks[0].x - 0.9).abs() < 1e-12);
    for theme in [Theme::LIGHT, Theme::DARK] {
        let scene = curves(&view, &theme);
        for shape in &scene.shapes {
            if let Shape::Line { from, to, .. } = shape {
                for end in [from, to] {
                    assert!(end.x >= scene.low.x && end.x <= scene.high.x, "{end:?}");
                    assert!(end.y >= scene.low.y && end.y <= scene.high.y, "{end:?}");
                }
            }
        }
        let words = words(&scene);
        for wanted in [
            "operating point",
            "best efficiency",
            "most power",
            "simulated in full",
            "closed form",
        ] {
            assert!(words.contains(&wanted), "{wanted}: {words:?}");
        }
        assert!(
            words
                .iter()
                .any(|words| words.contains("the motor's limit")),
            "{words:?}"
        );
    }
}

/// Where the model leaves its range the curve is dashed and the legend says so; elsewhere neither.
#[test]
fn what_is_only_about_right_is_dashed() {
    let drawn = |build: &Build| {
        let prediction = predict(build).unwrap();
        let view = build_curves(build, &prediction, None).unwrap();
        let about = view
            .panels
            .iter()
            .flat_map(|p| &p.strips)
            .flat_map(|s| s.curve.iter().flatten())
            .any(|s| s.about);
        (about, curves(&view, &Theme::LIGHT))
    };
    // a slow motor on much inductance: commutation fills the step
    let filled = example(|build| build.motor.line_inductance_h = Some(400e-6));
    assert_ne!(predict(&filled).unwrap().loaded.regime, Regime::Continuous);
    let (about, scene) = drawn(&filled);
    assert!(about && n_dashed(&scene) > 20);
    assert!(
        words(&scene)
            .iter()
            .any(|words| words.starts_with("only about"))
    );
    let (about, scene) = drawn(&example(|_| {}));
    assert_eq!(about, n_dashed(&scene) > 0);
    assert_eq!(
        about,
        words(&scene)
            .iter()
            .any(|words| words.starts_with("only about"))
    );
}

/// What a parser of HTML sees in a page.
#[derive(Debug, Default)]
struct Seen {
    errors: Vec<String>,
    names: BTreeSet<String>,
    addresses: Vec<String>,
    events: Vec<String>,
    ids: Vec<String>,
    n_pictures: usize,
    text: String,
}

fn look_at(page: &str) -> Seen {
    let dom: RcDom = html5ever::parse_document(RcDom::default(), Default::default()).one(page);
    let errors = dom
        .errors
        .borrow()
        .iter()
        .map(ToString::to_string)
        .collect();
    let mut seen = Seen {
        errors,
        ..Seen::default()
    };
    walk(&dom.document, &mut seen);
    seen
}

fn walk(node: &Handle, seen: &mut Seen) {
    match &node.data {
        NodeData::Element { name, attrs, .. } => {
            seen.names.insert(name.local.to_string());
            for attribute in attrs.borrow().iter() {
                let (key, value) = (
                    attribute.name.local.to_string(),
                    attribute.value.to_string(),
                );
                match key.as_str() {
                    "src" | "href" | "action" | "srcset" | "data" | "poster" => {
                        seen.addresses.push(value)
                    }
                    "id" => seen.ids.push(value),
                    "role" if value == "img" => seen.n_pictures += 1,
                    _ if key.starts_with("on") => seen.events.push(key),
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

fn wyebench(folder: &std::path::Path, arguments: &[&str]) -> (i32, String) {
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap(),
    )
}

/// One page, valid, with all that it promises, and nothing in it that was not escaped.
#[test]
fn a_report_needs_nothing_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let hostile = example_build()
        .replace(
            "Pond aerator, three cells and a fan",
            "<script>alert(1)</script> & \\\"co\\\"",
        )
        .replace(
            "# electrical",
            "# </code></pre><img src=x onerror=alert(1)>",
        );
    fs::write(folder.path().join("fan.toml"), hostile).unwrap();
    let (status, out) = wyebench(
        folder.path(),
        &[
            "predict",
            "fan.toml",
            "--confirm",
            "--report",
            "fan.html",
            "--trials",
            "100",
        ],
    );
    assert_eq!(status, 0, "{out}");
    let page = fs::read_to_string(folder.path().join("fan.html")).unwrap();
    let seen = stands_alone(&page, 2);
    // scaled to the page, and not cut
    assert_eq!(page.matches("viewBox=\"0 0 560 ").count(), 2);
    for words in [
        "<script>alert(1)</script> & \"co\"",
        "Limits, the fullest first",
        "95 % ranges",
        "simulated in full",
        "What was given",
        "power_coefficient = \"0.045 ± 15 %\"",
        "Where each figure comes from",
        "McCormick",
        "never run a loose propeller",
    ] {
        assert!(seen.text.contains(words), "{words}");
    }
    // figures stand there as the terminal shows them
    let json_of = wyebench(folder.path(), &["predict", "fan.toml", "--json"]).1;
    let json: serde_json::Value = serde_json::from_str(&json_of).unwrap();
    let thrust = json["thrust_n"].as_f64().unwrap();
    assert!(seen.text.contains(&format!("{thrust:.3} N")), "{thrust}");
    // the same build gives the same bytes
    let again = [
        "predict",
        "fan.toml",
        "--confirm",
        "--report",
        "2.html",
        "--trials",
        "100",
        "--json",
    ];
    assert_eq!(wyebench(folder.path(), &again).0, 0);
    assert_eq!(
        fs::read_to_string(folder.path().join("2.html")).unwrap(),
        page
    );
}

/// Nothing on the page calls for anything beside it, and it is valid.
fn stands_alone(page: &str, n_pictures: usize) -> Seen {
    let seen = look_at(page);
    assert_eq!(seen.errors, Vec::<String>::new());
    assert_eq!((seen.n_pictures, seen.events.len()), (n_pictures, 0));
    for address in &seen.addresses {
        assert!(address.starts_with('#'), "{address}");
    }
    assert_eq!(
        page.matches("http://").count(),
        page.matches("http://www.w3.org/").count()
    );
    for name in ["script", "img", "link", "iframe", "object", "foreignobject"] {
        assert!(!seen.names.contains(name), "{name}");
    }
    let unique: BTreeSet<&String> = seen.ids.iter().collect();
    assert_eq!(unique.len(), seen.ids.len(), "{:?}", seen.ids);
    seen
}

/// The page of a check says what the terminal says, of a sound sheet and of one with a slip in it.
#[test]
fn a_report_of_readings_needs_nothing_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let sound = example_sheet().replace(
        "Pond aerator, the motor from the spares box",
        "<script>alert(1)</script> & \\\"co\\\"",
    );
    let slip = sound.replace("1.92 V", "2.63 V");
    assert!(sound.contains("<script>") && slip != sound);
    let page = |name: &str, text: &str| {
        fs::write(folder.path().join(name), text).unwrap();
        let report = format!("{name}.html");
        let arguments = ["readings", name, "--report", &report];
        let (status, out) = wyebench(folder.path(), &arguments);
        assert_eq!(status, 0, "{out}");
        assert!(out.contains(&format!("written: {report}")), "{out}");
        (fs::read_to_string(folder.path().join(report)).unwrap(), out)
    };
    let (text, out) = page("sound.toml", &sound);
    let seen = stands_alone(&text, 1);
    assert_eq!(text.matches("viewBox=\"0 0 620 ").count(), 1);
    for words in [
        "<script>alert(1)</script> & \"co\"",
        "The readings agree",
        "95 of 100",
        "The label",
        "off by",
        "What was given",
        "temperature = \"22 degC\"",
        "Where each figure comes from",
        "R₁ (235 + T₂)/(235 + T₁)",
        "clamp the motor",
    ] {
        assert!(seen.text.contains(words), "{words}");
    }
    // ranges stand there as the terminal shows them
    let line = out.lines().find(|line| line.starts_with("  Kv ")).unwrap();
    let kv = line.trim_start_matches("  Kv").trim();
    assert!(kv.contains(" ± ") && seen.text.contains(kv), "{kv}");
    let (text, out) = page("slip.toml", &slip);
    let seen = stands_alone(&text, 1);
    for words in [
        "These readings cannot all be true",
        "What contradicts what",
        "Likely causes, one slip at a time",
        "a peak was noted as RMS",
        "What settles it",
        "About 2.63 V: all is as noted.",
    ] {
        assert!(seen.text.contains(words), "{words}");
        assert!(out.contains(words), "{words}");
    }
    // the same sheet gives the same bytes
    assert_eq!(page("slip.toml", &slip).0, text);
}

/// The page of a capture: figures with ranges, the order of the phases, and its trace over the same
/// motor simulated.
#[test]
fn a_report_of_a_capture_needs_nothing_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let setup = wyebench::setup::built_in();
    fs::write(folder.path().join("pond.toml"), setup).unwrap();
    // three line EMFs of seven pole pairs at 1200 rpm, Kv 920
    let (hz, peak) = (140.0, 1200.0 / 920.0);
    let mut csv = String::from("Time (s),CH1 (V),CH2 (V),CH3 (V)\n");
    for k in 0..4000_u32 {
        let t = f64::from(k) * 2e-5;
        let volts = [0.0, 1.0, 2.0].map(|n| {
            let turn = hz * t - n / 3.0;
            peak * (std::f64::consts::TAU * turn).sin()
        });
        csv += &format!("{t:.6},{:.5},{:.5},{:.5}\n", volts[0], volts[1], volts[2]);
    }
    fs::write(folder.path().join("spun.csv"), csv).unwrap();
    let arguments = [
        "capture",
        "spun.csv",
        "--speed",
        "1200 rpm",
        "--over",
        "pond.toml",
        "--report",
        "a.html",
        "--plot",
        "a.svg",
    ];
    let (status, out) = wyebench(folder.path(), &arguments);
    assert_eq!(status, 0, "{out}");
    assert!(out.contains("written: a.svg, a.html"), "{out}");
    let text = fs::read_to_string(folder.path().join("a.html")).unwrap();
    let seen = stands_alone(&text, 1);
    for words in [
        "Capture of a spun motor: spun.csv",
        "the order is U V W",
        "and simulated: Pond aerator",
        "4000 rows from line 2",
        "± 28 rpm/V",
        "Where each figure comes from",
        "The leads of a turning motor carry voltage",
    ] {
        assert!(seen.text.contains(words), "{words}");
    }
    let svg = fs::read_to_string(folder.path().join("a.svg")).unwrap();
    assert!(svg.contains("saved by an instrument, and simulated"));
    for (option, wanted) in [
        (["--report", "a.pdf"], ".html"),
        (["--over", "pond.toml"], "--plot FILE or --report FILE"),
    ] {
        let mut arguments = vec!["capture", "spun.csv"];
        arguments.extend(option);
        let (status, out) = wyebench(folder.path(), &arguments);
        assert!(status == 2 && out.contains(wanted), "{out}");
    }
}

#[test]
fn pictures_of_curves_are_written_whole() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("fan.toml"), example_build()).unwrap();
    for (name, theme) in [("a.svg", "light"), ("b.png", "dark")] {
        let arguments = ["predict", "fan.toml", "--plot", name, "--theme", theme];
        let (status, out) = wyebench(folder.path(), &arguments);
        assert_eq!(status, 0, "{out}");
    }
    let svg = fs::read_to_string(folder.path().join("a.svg")).unwrap();
    assert!(svg.contains("<title>Pond aerator, three cells and a fan</title>"));
    let png = fs::read(folder.path().join("b.png")).unwrap();
    assert_eq!(png[..8], [0x89, b'P', b'N', b'G', 13, 10, 26, 10]);
    for (option, name, wanted) in [
        ("--plot", "a.gif", ".svg or .png"),
        ("--report", "a.pdf", ".html"),
    ] {
        let (status, out) = wyebench(folder.path(), &["predict", "fan.toml", option, name]);
        assert!(status == 2 && out.contains(wanted), "{out}");
    }
}
