//! A scene in a panel: shapes by the painters, words by egui over them.

use std::collections::BTreeMap;

use egui::{Align2, FontFamily, FontId, Rect, Response, Sense, Ui, WidgetInfo};
use egui_wgpu::{CallbackResources, CallbackTrait, ScreenDescriptor};

use super::style;
use crate::scene::{Align, LEAST_TYPE_POINTS, Point, Scene, Shape, Text, at};
use crate::view::{Batches, Camera, Painters, Prepared};

/// The painters and what they hold for each picture; lives in egui's renderer.
struct Pictures {
    painters: Painters,
    prepared: BTreeMap<&'static str, Prepared>,
}

/// Builds the painters for the window's target. Once, before the first picture.
pub(super) fn install(render_state: &egui_wgpu::RenderState) {
    let painters = Painters::new(&render_state.device, render_state.target_format);
    let pictures = Pictures {
        painters,
        prepared: BTreeMap::new(),
    };
    render_state
        .renderer
        .write()
        .callback_resources
        .insert(pictures);
}

/// One picture of one frame.
struct Paint {
    name: &'static str,
    batches: Batches,
    camera: Camera,
}

impl CallbackTrait for Paint {
    fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        _screen: &ScreenDescriptor,
        _encoder: &mut wgpu::CommandEncoder,
        resources: &mut CallbackResources,
    ) -> Vec<wgpu::CommandBuffer> {
        if let Some(pictures) = resources.get_mut::<Pictures>() {
            let before = pictures.prepared.remove(self.name);
            let prepared =
                pictures
                    .painters
                    .prepare(device, queue, &self.batches, &self.camera, before);
            pictures.prepared.insert(self.name, prepared);
        }
        Vec::new()
    }

    fn paint(
        &self,
        _info: egui::PaintCallbackInfo,
        pass: &mut wgpu::RenderPass<'static>,
        resources: &CallbackResources,
    ) {
        if let Some(pictures) = resources.get::<Pictures>()
            && let Some(prepared) = pictures.prepared.get(self.name)
        {
            pictures.painters.paint(pass, prepared);
        }
    }
}

/// How a person has enlarged and moved a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Zoom {
    /// Times larger than the picture that fits; 1 to 200.
    pub(super) factor: f64,
    /// What lies in the middle, from the scene's middle.
    pub(super) offset: Point,
}

impl Default for Zoom {
    fn default() -> Self {
        Self {
            factor: 1.0,
            offset: at(0.0, 0.0),
        }
    }
}

/// Draws a scene into a rectangle. `words` say to those who cannot see it what it shows.
pub(super) fn picture_ui(
    ui: &mut Ui,
    name: &'static str,
    rect: Rect,
    scene: &Scene,
    zoom: Zoom,
    words: &str,
) -> Response {
    let pixels_per_point = ui.pixels_per_point();
    // Whole pixels, so that the painters' pixels are the screen's.
    let snap = |value: f32| (value * pixels_per_point).round() / pixels_per_point;
    let rect = Rect::from_min_max(
        egui::pos2(snap(rect.min.x), snap(rect.min.y)),
        egui::pos2(snap(rect.max.x), snap(rect.max.y)),
    );
    let size_px =
        |rect: Rect| [rect.width(), rect.height()].map(|side| f64::from(side * pixels_per_point));
    let mut camera = Camera::fit(scene, size_px(rect), f64::from(pixels_per_point));
    camera.points_per_unit *= zoom.factor;
    camera.centre = camera.centre + zoom.offset;
    // The device draws into the part of it that lies on the screen, or the rest would be pressed
    // into that.
    let seen = rect.intersect(ui.ctx().content_rect());
    if seen.is_positive() {
        let aside = seen.center() - rect.center();
        let aside = at(f64::from(aside.x), -f64::from(aside.y));
        camera.centre = camera.centre + aside * (1.0 / camera.points_per_unit);
        camera.size_px = size_px(seen);
        let batches = Batches::new(scene, &camera);
        let painter = ui.painter().with_clip_rect(seen.intersect(ui.clip_rect()));
        let paint = Paint {
            name,
            batches,
            camera,
        };
        painter.add(egui_wgpu::Callback::new_paint_callback(seen, paint));
        for shape in &scene.shapes {
            if let Shape::Text(text) = shape {
                words_on_picture(&painter, seen, text, &camera);
            }
        }
    }
    let response = ui.interact(rect, ui.scope_id().with(name), Sense::click_and_drag());
    let label = words.to_owned();
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &label));
    response
}

#[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
fn words_on_picture(painter: &egui::Painter, rect: Rect, text: &Text, camera: &Camera) {
    let size = camera.width_points(text.size);
    if size < LEAST_TYPE_POINTS {
        return;
    }
    // Half points are fine enough, and keep the number of letter sizes in the atlas small.
    let size = ((size * 2.0).round() / 2.0).min(200.0) as f32;
    let [x, y] = camera.pixels(text.anchor);
    let pixels_per_point = camera.pixels_per_point as f32;
    let place = rect.center() + egui::vec2(x, -y) / pixels_per_point;
    if !rect.expand(size * 4.0).contains(place) {
        return;
    }
    let align = match text.align {
        Align::Left => Align2::LEFT_CENTER,
        Align::Centre => Align2::CENTER_CENTER,
        Align::Right => Align2::RIGHT_CENTER,
    };
    let font = FontId::new(size, FontFamily::Proportional);
    painter.text(place, align, &text.words, font, style::colour(text.colour));
}

/// Lets the wheel enlarge round the pointer, a drag move, and a double click fit the picture.
pub(super) fn zoom_with(ui: &Ui, response: &Response, scene: &Scene, zoom: &mut Zoom) {
    let pixels_per_unit = {
        let size = [response.rect.width(), response.rect.height()].map(f64::from);
        scene.fit_points(size[0], size[1]) * zoom.factor
    };
    if response.double_clicked() {
        *zoom = Zoom::default();
        return;
    }
    let bench = |vec: egui::Vec2| at(f64::from(vec.x), -f64::from(vec.y)) * (1.0 / pixels_per_unit);
    if response.dragged() && zoom.factor > 1.0 {
        zoom.offset = zoom.offset - bench(response.drag_delta());
    }
    if let Some(pointer) = response.hover_pos() {
        let wheel = ui.input(|input| f64::from(input.smooth_scroll_delta.y));
        if wheel != 0.0 {
            let before = zoom.factor;
            zoom.factor = (zoom.factor * (wheel / 240.0).exp()).clamp(1.0, 200.0);
            // What lies under the pointer stays there.
            let from_middle = bench(pointer - response.rect.center());
            zoom.offset = zoom.offset + from_middle * (1.0 - before / zoom.factor);
        }
    }
    if zoom.factor <= 1.0 {
        zoom.offset = at(0.0, 0.0);
    }
}
