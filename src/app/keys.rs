//! The keys of the window: one list, which the window obeys, the help sheet prints, and a test
//! presses from the first line to the last.

use egui::{Key, Modifiers};

/// What a key is asked to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Ask which setup to open.
    Open,
    /// Save the setup to its file.
    Save,
    /// Save it under another name.
    SaveAs,
    /// Take the last change of the bench back.
    Undo,
    /// Make it again.
    Redo,
    /// List all figures.
    Figures,
    /// Show or hide what stands on the bench.
    Bench,
    /// Take the rotor into the hand, or give it back to the drive.
    Hand,
    /// List the parts and their values.
    Parts,
    /// Change the layout coil side by coil side, or leave that.
    Winding,
    /// Predict a build from its labels, or leave that.
    Predict,
    /// Judge what was measured, or leave that.
    Readings,
    /// Choose parts for what is wanted, or leave that.
    Choose,
    /// Read a waveform that an instrument saved, or leave that.
    Capture,
    /// Set another machine beside the one on the bench, or leave that.
    Beside,
    /// Change between the dark and the light room.
    Room,
    /// Fill the screen, or not.
    FullScreen,
    /// Enter the face for a projector, or leave it.
    Presenter,
    /// Show the next picture large, in the face for a projector.
    NextPicture,
    /// Show the next row of waveforms, in the face for a projector.
    NextRow,
    /// Show or hide the lessons.
    Lessons,
    /// Show the lesson as a talk, or leave it.
    Talk,
    /// Scroll the lesson on.
    ReadOn,
    /// Scroll the lesson back.
    ReadBack,
    /// Show the keys.
    Keys,
    /// Take the topmost sheet away, or leave what was entered.
    Leave,
}

/// A line of the list.
#[derive(Clone, Copy, Debug)]
pub struct KeyLine {
    /// Held with the key.
    pub modifiers: Modifiers,
    /// The key.
    pub key: Key,
    /// As people call it.
    pub shown: &'static str,
    /// What is done; `None` where the time rail or the window system hears the key itself.
    pub deed: Option<Deed>,
    /// The same in words.
    pub does: &'static str,
}

const fn line(key: Key, shown: &'static str, deed: Option<Deed>, does: &'static str) -> KeyLine {
    KeyLine {
        modifiers: Modifiers::NONE,
        key,
        shown,
        deed,
        does,
    }
}

const fn with(modifiers: Modifiers, line: KeyLine) -> KeyLine {
    KeyLine { modifiers, ..line }
}

const CTRL: Modifiers = Modifiers::COMMAND;
const CTRL_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

/// All keys, in the order in which the help sheet prints them.
pub const KEYS: &[KeyLine] = &[
    line(Key::Space, "Space", None, "let time run, or stop it"),
    line(Key::ArrowRight, "→", None, "on to the next step"),
    line(Key::ArrowLeft, "←", None, "back to the step before"),
    line(
        Key::PageDown,
        "Page down",
        None,
        "on to the next step, as a clicker in the hand does",
    ),
    line(Key::PageUp, "Page up", None, "back to the step before"),
    line(Key::ArrowUp, "↑", None, "show the motor faster"),
    line(Key::ArrowDown, "↓", None, "show the motor slower"),
    line(Key::Num1, "1", None, "a step is one PWM event"),
    line(Key::Num2, "2", None, "a step is one commutation"),
    line(Key::Num3, "3", None, "a step is one electrical turn"),
    line(Key::Num4, "4", None, "a step is one mechanical turn"),
    line(Key::Plus, "+", None, "enlarge the waveforms round now"),
    line(Key::Minus, "−", None, "show more of the waveforms"),
    line(Key::Home, "Home", None, "show all waveforms on record"),
    line(Key::End, "End", None, "let the waveforms follow now"),
    line(
        Key::E,
        "E",
        None,
        "waveforms over time, or over the electrical angle",
    ),
    line(Key::A, "A", None, "put cursor A here, or take it away"),
    line(Key::B, "B", None, "put cursor B here, or take it away"),
    line(Key::OpenBracket, "[", None, "move the last cursor back"),
    line(Key::CloseBracket, "]", None, "move the last cursor on"),
    line(
        Key::K,
        "K",
        None,
        "keep the traces to compare with, or drop them",
    ),
    line(Key::F, "F", Some(Deed::Figures), "list all figures"),
    line(
        Key::D,
        "D",
        Some(Deed::Bench),
        "show or hide what stands on the bench",
    ),
    line(
        Key::H,
        "H",
        Some(Deed::Hand),
        "turn the rotor by hand, or give it back to the drive",
    ),
    line(
        Key::I,
        "I",
        Some(Deed::Parts),
        "list the parts, each with its values",
    ),
    line(
        Key::Q,
        "Q",
        Some(Deed::Winding),
        "wind by hand: change the layout coil by coil",
    ),
    line(
        Key::M,
        "M",
        Some(Deed::Beside),
        "another machine beside the one on the bench",
    ),
    line(
        Key::G,
        "G",
        Some(Deed::Predict),
        "reckon what a build will do, from its labels",
    ),
    line(
        Key::J,
        "J",
        Some(Deed::Readings),
        "judge readings: what motor they tell of, and whether they can be true",
    ),
    line(
        Key::X,
        "X",
        Some(Deed::Choose),
        "parts that would do for what is wanted, and why the others do not",
    ),
    line(
        Key::O,
        "O",
        Some(Deed::Capture),
        "read a capture of an oscilloscope, over the bench",
    ),
    with(
        CTRL,
        line(
            Key::Z,
            "Ctrl Z",
            Some(Deed::Undo),
            "take the last change back",
        ),
    ),
    with(
        CTRL,
        line(Key::Y, "Ctrl Y", Some(Deed::Redo), "make it again"),
    ),
    with(
        CTRL,
        line(Key::O, "Ctrl O", Some(Deed::Open), "open a setup"),
    ),
    // The longer combination first: the shorter one would hear both.
    with(
        CTRL_SHIFT,
        line(
            Key::S,
            "Ctrl Shift S",
            Some(Deed::SaveAs),
            "save the setup under another name",
        ),
    ),
    with(
        CTRL,
        line(Key::S, "Ctrl S", Some(Deed::Save), "save the setup"),
    ),
    line(Key::L, "L", Some(Deed::Room), "light or dark room"),
    line(
        Key::P,
        "P",
        Some(Deed::Presenter),
        "the face for a projector, and back",
    ),
    line(
        Key::N,
        "N",
        Some(Deed::NextPicture),
        "on the projector: the next picture large",
    ),
    line(
        Key::R,
        "R",
        Some(Deed::NextRow),
        "on the projector: the next row of waveforms",
    ),
    line(
        Key::C,
        "C",
        Some(Deed::Lessons),
        "show the course beside the bench, or hide it",
    ),
    line(
        Key::T,
        "T",
        Some(Deed::Talk),
        "the lesson as a talk, and back; there → and ← go from thing to thing, 1 to 9 count hands",
    ),
    with(
        Modifiers::SHIFT,
        line(
            Key::PageDown,
            "Shift Page down",
            Some(Deed::ReadOn),
            "read on in the lesson",
        ),
    ),
    with(
        Modifiers::SHIFT,
        line(
            Key::PageUp,
            "Shift Page up",
            Some(Deed::ReadBack),
            "read back in the lesson",
        ),
    ),
    line(
        Key::F11,
        "F11",
        Some(Deed::FullScreen),
        "fill the screen, or not",
    ),
    with(
        CTRL,
        line(Key::Plus, "Ctrl +", None, "make everything larger"),
    ),
    with(
        CTRL,
        line(Key::Minus, "Ctrl −", None, "make everything smaller"),
    ),
    with(
        CTRL,
        line(Key::Num0, "Ctrl 0", None, "back to the usual size"),
    ),
    line(Key::Questionmark, "?", Some(Deed::Keys), "show these keys"),
    line(
        Key::Escape,
        "Esc",
        Some(Deed::Leave),
        "take the topmost sheet away, or leave a page or the projector's face",
    ),
];
