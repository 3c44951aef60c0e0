//! A browser: its storage under names in the place of files, its own dialog for files, the page's
//! address.
//!
//! What the browser refuses (no storage in a private window, no whole screen) is an error where a
//! desktop has one too, and otherwise passed over: the bench works without.

use std::future::Future;
use std::io;
use std::path::{Path, PathBuf};
use std::pin::Pin;

use egui::{Context, DroppedFileHandle};
use wasm_bindgen::{JsCast as _, JsValue, closure::Closure};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Document, HtmlAnchorElement, HtmlInputElement, Storage, Window};

use super::{Brought, Purpose};
use crate::readings::capture::MAX_CAPTURE_BYTES;
use crate::setup::MAX_TEXT_BYTES;

/// True where setups are files at paths; else they lie by name in the browser's storage, and go
/// out and in as copies.
pub(in crate::app) const FILES: bool = false;
/// What a setup lies at.
pub(in crate::app) const PLACE: &str = "Name in this browser";
/// Where nothing lies at a place.
pub(in crate::app) const NOTHING_HERE: &str = "No setup is kept in this browser yet.";
/// The dialog beside our own, and what it is for.
pub(in crate::app) const BROWSE: [&str; 2] = ["As a file", "Open or save a file of this device"];

/// Before the names of what the window keeps: other pages of the same host keep theirs beside it.
const PREFIX: &str = "wyebench/";
/// The element that the window is drawn into.
pub(in crate::app) const CANVAS: &str = "bench";
/// The element whose words are read out.
const SPOKEN: &str = "spoken";

/// What a dialog will bring.
pub(in crate::app) type Bringing = Pin<Box<dyn Future<Output = Option<Brought>>>>;

fn window() -> Option<Window> {
    web_sys::window()
}

fn document() -> Option<Document> {
    window()?.document()
}

fn storage() -> Option<Storage> {
    window()?.local_storage().ok().flatten()
}

fn key_of(path: &Path) -> String {
    format!("{PREFIX}{}", path.to_string_lossy())
}

fn kept(path: &Path) -> Option<String> {
    storage()?.get_item(&key_of(path)).ok().flatten()
}

/// Asks for a setup to open.
pub(in crate::app) fn pick(_folder: &Path) -> Bringing {
    pick_of(".toml", Purpose::Open)
}

/// Asks for a table of values.
pub(in crate::app) fn pick_table(_folder: &Path) -> Bringing {
    pick_of(".csv,.txt,.tsv", Purpose::Page)
}

fn pick_of(accept: &str, purpose: Purpose) -> Bringing {
    let asked = file_input(accept);
    Box::pin(async move {
        let (input, chosen) = asked?;
        JsFuture::from(chosen).await.ok()?;
        let file = input.files()?.get(0)?;
        Some(
            read_file(
                &file.name(),
                [file.size(), most_bytes(purpose)],
                JsFuture::from(file.array_buffer()),
            )
            .await,
        )
    })
}

/// The browser's dialog for a file, opened at once as long as the click that asked for it counts,
/// and a promise of an answer.
fn file_input(accept: &str) -> Option<(HtmlInputElement, js_sys::Promise)> {
    let input: HtmlInputElement = document()?.create_element("input").ok()?.dyn_into().ok()?;
    input.set_type("file");
    input.set_accept(accept);
    let chosen = js_sys::Promise::new(&mut |resolve, _| {
        for event in ["change", "cancel"] {
            let _ = input.add_event_listener_with_callback(event, &resolve);
        }
    });
    input.click();
    Some((input, chosen))
}

/// The largest file that is read, in bytes.
#[expect(clippy::cast_precision_loss, reason = "some millions")]
const fn most_bytes(purpose: Purpose) -> f64 {
    match purpose {
        Purpose::Page => MAX_CAPTURE_BYTES as f64,
        Purpose::Open | Purpose::Save | Purpose::Drop => MAX_TEXT_BYTES as f64,
    }
}

async fn read_file(
    name: &str,
    [n_bytes, most]: [f64; 2],
    read: impl Future<Output = Result<JsValue, JsValue>>,
) -> Brought {
    if n_bytes > most {
        let words = format!("{name} has {n_bytes} bytes; {most} are the most.");
        return Brought::Unread(name.to_owned(), words);
    }
    match read.await {
        Ok(buffer) => Brought::Bytes(name.to_owned(), js_sys::Uint8Array::new(&buffer).to_vec()),
        Err(_) => Brought::Unread(name.to_owned(), format!("The browser cannot read {name}.")),
    }
}

/// Asks for a name to save under: our own dialog does.
pub(in crate::app) fn pick_name(_folder: &Path, _name: &str) -> Bringing {
    Box::pin(std::future::ready(None))
}

/// What was dropped in.
pub(in crate::app) fn dropped(file: &DroppedFileHandle, purpose: Purpose) -> Bringing {
    let file = file.clone();
    Box::pin(async move {
        let name = file.path().to_string_lossy().into_owned();
        let web = file.web_file()?;
        Some(
            read_file(
                &name,
                [web.size(), most_bytes(purpose)],
                JsFuture::from(web.array_buffer()),
            )
            .await,
        )
    })
}

/// Size of what is kept under a name, in bytes.
///
/// # Errors
/// Nothing is kept under it.
pub(in crate::app) fn size(path: &Path) -> io::Result<Option<u64>> {
    read(path).map(|bytes| Some(bytes.len() as u64))
}

/// All that is kept under a name.
///
/// # Errors
/// Nothing is kept under it.
pub(in crate::app) fn read(path: &Path) -> io::Result<Vec<u8>> {
    let text = kept(path).ok_or(io::ErrorKind::NotFound)?;
    Ok(text.into_bytes())
}

/// True where something is kept under a name.
pub(in crate::app) fn exists(path: &Path) -> bool {
    kept(path).is_some()
}

/// True for the one folder: where setups are kept.
pub(in crate::app) fn is_folder(path: &Path) -> bool {
    path.as_os_str().is_empty()
}

/// The name itself.
pub(in crate::app) fn one_path(path: &Path) -> PathBuf {
    path.to_path_buf()
}

/// Where setups are kept.
pub(in crate::app) const fn start_folder() -> PathBuf {
    PathBuf::new()
}

/// The names in a folder.
pub(in crate::app) fn list(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let folder = folder.to_path_buf();
    let storage = storage();
    let n = storage.as_ref().map_or(0, |all| all.length().unwrap_or(0));
    (0..n).filter_map(move |idx| {
        let key = storage.as_ref()?.key(idx).ok().flatten()?;
        let path = PathBuf::from(key.strip_prefix(PREFIX)?);
        (path.parent() == Some(&folder)).then_some(path)
    })
}

/// Folders are parts of names here.
///
/// # Errors
/// None.
#[expect(clippy::unnecessary_wraps, reason = "a desktop can fail")]
pub(in crate::app) const fn make_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}

/// Keeps a text under a name, whole or not at all.
///
/// # Errors
/// The browser has no room, or does not keep anything.
pub(in crate::app) fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    let storage = storage().ok_or_else(|| io::Error::other("this browser keeps nothing"))?;
    storage
        .set_item(&key_of(path), text)
        .map_err(|_| io::Error::other("this browser has no room left for it"))
}

/// Gives a copy of a text out of the browser, as a download of that name.
pub(in crate::app) fn hand_out(name: &str, text: &str) {
    let _ = download(name, text);
}

fn download(name: &str, text: &str) -> Result<(), JsValue> {
    let parts = js_sys::Array::of1(&JsValue::from_str(text));
    let blob = web_sys::Blob::new_with_str_sequence(&parts)?;
    let url = web_sys::Url::create_object_url_with_blob(&blob)?;
    let document = document().ok_or(JsValue::NULL)?;
    let anchor: HtmlAnchorElement = document.create_element("a")?.dyn_into()?;
    anchor.set_href(&url);
    anchor.set_download(name);
    anchor.click();
    web_sys::Url::revoke_object_url(&url)
}

/// Calls the page by that name.
pub(in crate::app) fn entitle(_ctx: &Context, title: String) {
    if let Some(document) = document() {
        document.set_title(&title);
    }
}

/// True while the page fills the screen.
pub(in crate::app) fn fills_screen(_ctx: &Context) -> bool {
    document().is_some_and(|document| document.fullscreen_element().is_some())
}

/// Lets the page fill the screen, or not.
pub(in crate::app) fn fill_screen(_ctx: &Context, fill: bool) {
    let Some(document) = document() else { return };
    if fill {
        let root = document.document_element();
        let _ = root.map(|root| root.request_fullscreen());
    } else if document.fullscreen_element().is_some() {
        document.exit_fullscreen();
    }
}

/// What follows the `#` of the page's address.
pub(in crate::app) fn address() -> Option<String> {
    let hash = window()?.location().hash().ok()?;
    Some(hash.strip_prefix('#').unwrap_or_default().to_owned())
}

/// Puts what follows the `#` into the page's address, without a new step of its history.
pub(in crate::app) fn set_address(fragment: &str) {
    if let Some(history) = window().and_then(|window| window.history().ok()) {
        let url = format!("#{fragment}");
        let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&url));
    }
}

/// The address of the page with something after the `#`.
pub(in crate::app) fn link(fragment: &str) -> Option<String> {
    let here = window()?.location().href().ok()?;
    let page = here.split('#').next().unwrap_or_default();
    Some(format!("{page}#{fragment}"))
}

/// Shows those who look at the page from outside what is shown: an attribute `data-…` of the
/// canvas.
pub(in crate::app) fn tell(name: &str, value: &str) {
    if let Some(canvas) = document().and_then(|document| document.get_element_by_id(CANVAS)) {
        let _ = canvas.set_attribute(&format!("data-{name}"), value);
    }
}

/// Asks for a frame whenever the page's address is changed by hand.
pub(in crate::app) fn hear_address(ctx: &Context) {
    let ctx = ctx.clone();
    let heard = Closure::<dyn FnMut()>::new(move || ctx.request_repaint());
    if let Some(window) = window() {
        let _ =
            window.add_event_listener_with_callback("hashchange", heard.as_ref().unchecked_ref());
    }
    // as long as the page
    heard.forget();
}

/// Says words to those who hear the page instead of seeing it.
pub(in crate::app) fn speak(words: &str) {
    if let Some(place) = document().and_then(|document| document.get_element_by_id(SPOKEN)) {
        place.set_text_content(Some(words));
    }
}

/// A clock for how long a frame may take, in s.
pub(in crate::app) fn clock_s() -> f64 {
    window()
        .and_then(|window| window.performance())
        .map_or(0.0, |clock| clock.now() * 1e-3)
}

/// Pieces of a solution between two looks at that clock.
pub(super) const PIECES_PER_LOOK: u32 = 100;
