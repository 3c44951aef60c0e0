//! Does the window keep up? Milliseconds of processor and of graphics device for a frame, while
//! the motor is simulated as fast as life, and the time to the first frame. Frames come sixty times
//! a second, as a display asks for them; the run goes on beside them on a thread of its own, whose
//! time is told apart (in the frame's own time it counts only where the frame has to wait for it).
//!
//! `cargo bench --bench frame_time`. Draws into memory: a Vulkan device is enough (a software
//! one too: Debian's mesa-vulkan-drivers), no screen. The adapter is named with the figures;
//! `WGPU_POWER_PREF=high` asks for the faster of several.

#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    clippy::cast_possible_truncation,
    clippy::iter_over_hash_type,
    reason = "a bench reads clocks and speaks to the terminal; textures may come in any order"
)]

use std::time::Instant;

use eframe::App as _;
use egui_wgpu::ScreenDescriptor;
use wyebench::analysis::Trailing;
use wyebench::app::{App, Shown};
use wyebench::record::{Tape, Taping};
use wyebench::setup::{Setup, built_in};
use wyebench::sim::Simulator;

/// Frames before the ones that count, and those.
const WARM_UP: u32 = 60;
const COUNTED: u32 = 240;
/// How long one size may take, and the frames that are counted and run warm all the same.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(20);
const LEAST: u32 = 10;
const WARM_UP_AT_LEAST: u32 = 5;

fn main() {
    // Without what `cargo bench` adds, as under `cargo test`, only whether it runs is asked.
    let short = !std::env::args().any(|argument| argument == "--bench");
    let setup = Setup::parse(built_in(), "built-in").expect("the built-in setup is good");
    let begun = Instant::now();
    let device = Device::open();
    println!("adapter: {}", device.name);
    println!(
        "time stamps of the device: {}",
        if device.period_ns.is_some() {
            "yes"
        } else {
            "no; what is given is submit to done, seen from the processor"
        }
    );
    let mut first = Bench::new(&device, &setup, [1360, 860], 1.0, Drawn::Whole);
    let opened_ms = ms(begun);
    first.frame(0);
    println!(
        "first frame: {:.0} ms after the start, {opened_ms:.0} of them for device, pipelines and \
         type (goal 500); a window and its surface come on top",
        ms(begun)
    );
    println!("\n                        processor, ms a frame           device, ms a frame");
    println!("                        mean   95 %   worst  (goal 4)   mean   95 %   worst");
    for (name, size_px, per_point) in [
        ("1080p", [1920, 1080], 1.0),
        ("4K, two pixels a point", [3840, 2160], 2.0),
        ("4K, one pixel a point", [3840, 2160], 1.0),
    ] {
        let mut bench = Bench::new(&device, &setup, size_px, per_point, Drawn::Whole);
        let (warm_up, counted) = if short { (1, 2) } else { (WARM_UP, COUNTED) };
        let (mut processor, mut graphics) = (Vec::new(), Vec::new());
        let begun = Instant::now();
        let mut idx = 0;
        // A software device is slow: fewer frames then, so that the bench ends.
        while idx < warm_up + counted
            && (begun.elapsed() < PATIENCE || processor.len() < LEAST.min(counted) as usize)
        {
            let [cpu_ms, gpu_ms] = bench.frame(idx);
            idx += 1;
            if idx > warm_up.min(WARM_UP_AT_LEAST)
                && (idx > warm_up || begun.elapsed() > PATIENCE / 3)
            {
                processor.push(cpu_ms);
                graphics.push(gpu_ms);
            }
        }
        let n_counted = processor.len();
        let run_ms = run_alone_ms(&setup, if short { 1 } else { 60 });
        let running_ms = bench.parts_ms.map(|part| part / f64::from(bench.n_frames));
        bench.app.time_mut().running = false;
        let still_ms = (0..10).map(|k| bench.frame(idx + k)[0]).sum::<f64>() / 10.0;
        println!(
            "{name:<22} {}             {}   ({n_counted} frames)",
            figures(&mut processor),
            figures(&mut graphics)
        );
        println!(
            "    of the processor's mean: panels {:.2}, outlines of type {:.2}, buffers and commands \
             {:.2}; paused, all together {still_ms:.2}; the run, on a thread beside it, {run_ms:.2}",
            running_ms[0], running_ms[1], running_ms[2]
        );
        let alone = [Drawn::Nothing, Drawn::Panels].map(|drawn| {
            let n_frames = if short { 2 } else { LEAST * 2 };
            let mut bench = Bench::new(&device, &setup, size_px, per_point, drawn);
            let mut each: Vec<f64> = (0..n_frames).map(|idx| bench.frame(idx)[1]).collect();
            each.sort_by(f64::total_cmp);
            each[each.len() / 2]
        });
        println!(
            "    of the device's: an empty picture {:.2}; panels and type, without the painters, \
             {:.2}",
            alone[0], alone[1]
        );
    }
    println!("\ngoal for the device: 1 ms at 4K; the motor runs as fast as life all the while");
}

/// Milliseconds of the processor for what a frame asks of the run, alone: pieces, record and
/// trailing figures of a sixtieth of a second.
fn run_alone_ms(setup: &Setup, n_frames: u32) -> f64 {
    let mut simulator = Simulator::new(setup);
    let mut tape = Tape::new(300_000, setup.machine.connection);
    let mut trailing = Trailing::new(simulator.machine().pole_pairs, setup.run.measure_s);
    let begun = Instant::now();
    for frame in 1..=n_frames {
        // the window's own spacing: a fifth of a period of the built-in setup's chopping
        let mut taping = Taping {
            tape: &mut tape,
            spacing_s: 1e-5,
        };
        simulator
            .run_past(
                f64::from(frame) / 60.0,
                u32::MAX,
                &mut (&mut taping, &mut trailing),
            )
            .expect("the built-in setup runs");
    }
    ms(begun) / f64::from(n_frames)
}

/// Mean, the value that 95 of 100 stay below, and the worst.
fn figures(values: &mut [f64]) -> String {
    values.sort_by(f64::total_cmp);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let at = |share: f64| values[((values.len() - 1) as f64 * share) as usize];
    format!("{mean:6.2} {:6.2} {:6.2}", at(0.95), at(1.0))
}

fn ms(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1e3
}

struct Device {
    state: egui_wgpu::RenderState,
    name: String,
    /// Nanoseconds of a tick, where the device has time stamps.
    period_ns: Option<f64>,
}

impl Device {
    fn open() -> Self {
        let mut setup = egui_wgpu::WgpuSetupCreateNew::without_display_handle();
        setup.device_descriptor = std::sync::Arc::new(|adapter| wgpu::DeviceDescriptor {
            label: Some("frame time"),
            required_features: adapter.features() & wgpu::Features::TIMESTAMP_QUERY,
            required_limits: wgpu::Limits::default().using_resolution(adapter.limits()),
            ..wgpu::DeviceDescriptor::default()
        });
        let wgpu_setup = egui_wgpu::WgpuSetup::CreateNew(setup);
        let instance = pollster::block_on(wgpu_setup.new_instance());
        let state = pollster::block_on(egui_wgpu::RenderState::create(
            &egui_wgpu::WgpuConfiguration {
                wgpu_setup,
                ..egui_wgpu::WgpuConfiguration::default()
            },
            &instance,
            None,
            egui_wgpu::RendererOptions::default(),
        ))
        .expect("a Vulkan device; a software one is in Debian's mesa-vulkan-drivers");
        let info = state.adapter.get_info();
        let stamps = state
            .device
            .features()
            .contains(wgpu::Features::TIMESTAMP_QUERY);
        Self {
            name: format!("{} ({:?}, {})", info.name, info.backend, info.driver_info),
            period_ns: stamps.then(|| f64::from(state.queue.get_timestamp_period())),
            state,
        }
    }
}

/// How much of a frame is drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Drawn {
    Nothing,
    Panels,
    Whole,
}

/// The window's content, drawn into memory.
struct Bench<'a> {
    drawn: Drawn,
    device: &'a Device,
    ctx: egui::Context,
    app: App,
    frame: eframe::Frame,
    target: wgpu::TextureView,
    screen: ScreenDescriptor,
    stamps: Option<Stamps>,
    parts_ms: [f64; 3],
    n_frames: u32,
    opened: Instant,
}

struct Stamps {
    queries: wgpu::QuerySet,
    resolved: wgpu::Buffer,
    read: wgpu::Buffer,
}

impl<'a> Bench<'a> {
    fn new(
        device: &'a Device,
        setup: &Setup,
        size_px: [u32; 2],
        per_point: f32,
        drawn: Drawn,
    ) -> Self {
        let ctx = egui::Context::default();
        let mut creation = eframe::CreationContext::_new_kittest(ctx.clone());
        creation.wgpu_render_state = Some(device.state.clone());
        let shown = Shown::new(setup).expect("the built-in winding can be drawn");
        let mut app = App::new(&creation, shown, setup.clone());
        app.run();
        app.time_mut().set_pace(1.0);
        let gpu = &device.state.device;
        let target = gpu.create_texture(&wgpu::TextureDescriptor {
            label: Some("window"),
            size: wgpu::Extent3d {
                width: size_px[0],
                height: size_px[1],
                depth_or_array_layers: 1,
            },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: device.state.target_format,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
            view_formats: &[],
        });
        let stamps = device.period_ns.map(|_| {
            let buffer = |label, usage| {
                gpu.create_buffer(&wgpu::BufferDescriptor {
                    label: Some(label),
                    size: 16,
                    usage,
                    mapped_at_creation: false,
                })
            };
            Stamps {
                queries: gpu.create_query_set(&wgpu::QuerySetDescriptor {
                    label: Some("stamps"),
                    ty: wgpu::QueryType::Timestamp,
                    count: 2,
                }),
                resolved: buffer(
                    "resolved",
                    wgpu::BufferUsages::QUERY_RESOLVE | wgpu::BufferUsages::COPY_SRC,
                ),
                read: buffer(
                    "read",
                    wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
                ),
            }
        });
        Self {
            drawn,
            device,
            ctx,
            app,
            frame: eframe::Frame::_new_kittest(),
            target: target.create_view(&wgpu::TextureViewDescriptor::default()),
            screen: ScreenDescriptor {
                size_in_pixels: size_px,
                pixels_per_point: per_point,
            },
            stamps,
            parts_ms: [0.0; 3],
            n_frames: 0,
            opened: Instant::now(),
        }
    }

    /// One frame a sixtieth of a second after the one before: milliseconds of the processor, and
    /// of the device.
    fn frame(&mut self, idx: u32) -> [f64; 2] {
        let per_point = self.screen.pixels_per_point;
        let [width, height] = self.screen.size_in_pixels;
        let mut input = egui::RawInput {
            screen_rect: Some(egui::Rect::from_min_size(
                egui::Pos2::ZERO,
                egui::vec2(width as f32, height as f32) / per_point,
            )),
            time: Some(f64::from(idx) / 60.0),
            predicted_dt: 1.0 / 60.0,
            focused: true,
            ..egui::RawInput::default()
        };
        if let Some(viewport) = input.viewports.get_mut(&egui::ViewportId::ROOT) {
            viewport.native_pixels_per_point = Some(per_point);
        }
        // as a display asks for frames: the time between is the other thread's too
        let due_s = f64::from(self.n_frames) / 60.0;
        let early_s = due_s - self.opened.elapsed().as_secs_f64();
        if early_s > 0.0 {
            std::thread::sleep(std::time::Duration::from_secs_f64(early_s));
        }
        let begun = Instant::now();
        let output = self
            .ctx
            .clone()
            .run_ui(input, |ui| self.app.ui(ui, &mut self.frame));
        let panels_ms = ms(begun);
        let outlines = Instant::now();
        let primitives = self.ctx.tessellate(output.shapes, output.pixels_per_point);
        let outlines_ms = ms(outlines);
        let commands = Instant::now();
        let gpu = &self.device.state;
        let mut renderer = gpu.renderer.write();
        let mut textures = output.textures_delta;
        for (id, images) in textures.set.drain() {
            for image in images {
                renderer.update_texture(&gpu.device, &gpu.queue, id, &image);
            }
        }
        let mut encoder = gpu
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let mut buffers = renderer.update_buffers(
            &gpu.device,
            &gpu.queue,
            &mut encoder,
            &primitives,
            &self.screen,
        );
        {
            let pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("window"),
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: &self.target,
                    resolve_target: None,
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                        store: wgpu::StoreOp::Store,
                    },
                    depth_slice: None,
                })],
                timestamp_writes: self.stamps.as_ref().map(|stamps| {
                    wgpu::RenderPassTimestampWrites {
                        query_set: &stamps.queries,
                        beginning_of_pass_write_index: Some(0),
                        end_of_pass_write_index: Some(1),
                    }
                }),
                ..wgpu::RenderPassDescriptor::default()
            });
            let mut pass = pass.forget_lifetime();
            let shown: Vec<_> = match self.drawn {
                Drawn::Whole => primitives,
                Drawn::Nothing => Vec::new(),
                Drawn::Panels => {
                    let panels = |primitive: &egui::ClippedPrimitive| {
                        matches!(primitive.primitive, egui::epaint::Primitive::Mesh(_))
                    };
                    primitives.into_iter().filter(panels).collect()
                }
            };
            renderer.render(&mut pass, &shown, &self.screen);
        }
        if let Some(stamps) = &self.stamps {
            encoder.resolve_query_set(&stamps.queries, 0..2, &stamps.resolved, 0);
            encoder.copy_buffer_to_buffer(&stamps.resolved, 0, &stamps.read, 0, 16);
        }
        buffers.push(encoder.finish());
        let commands_ms = ms(commands);
        let submitted = Instant::now();
        gpu.queue.submit(buffers);
        gpu.device
            .poll(wgpu::PollType::wait_indefinitely())
            .expect("the device answers");
        let mut gpu_ms = ms(submitted);
        if let (Some(stamps), Some(period_ns)) = (&self.stamps, self.device.period_ns) {
            gpu_ms = stamps.elapsed_ticks(gpu) * period_ns * 1e-6;
        }
        for id in textures.free.drain() {
            renderer.free_texture(&id);
        }
        for (sum, part) in self
            .parts_ms
            .iter_mut()
            .zip([panels_ms, outlines_ms, commands_ms])
        {
            *sum += part;
        }
        self.n_frames += 1;
        [panels_ms + outlines_ms + commands_ms, gpu_ms]
    }
}

impl Stamps {
    fn elapsed_ticks(&self, gpu: &egui_wgpu::RenderState) -> f64 {
        self.read.slice(..).map_async(wgpu::MapMode::Read, |_| {});
        gpu.device
            .poll(wgpu::PollType::wait_indefinitely())
            .expect("the device answers");
        let ticks: Vec<u64> = {
            let bytes = self
                .read
                .slice(..)
                .get_mapped_range()
                .expect("the stamps were mapped");
            bytes
                .chunks_exact(8)
                .map(|tick| u64::from_le_bytes(tick.try_into().expect("eight bytes")))
                .collect()
        };
        self.read.unmap();
        ticks[1].saturating_sub(ticks[0]) as f64
    }
}
