//! Pictures without a window.

use std::fmt;

use super::batches::Batches;
use super::camera::Camera;
use super::painters::Painters;
use crate::scene::{Colour, Scene};

/// A GPU, or the software one, that draws into memory.
#[derive(Debug)]
pub struct Offscreen {
    device: wgpu::Device,
    queue: wgpu::Queue,
    painters: Painters,
    name: String,
}

/// Why no picture could be drawn.
#[derive(Debug)]
pub enum OffscreenError {
    /// Neither a GPU nor a software one answers (on Debian: `mesa-vulkan-drivers`).
    NoAdapter(wgpu::RequestAdapterError),
    /// It answers, but cannot be used.
    NoDevice(wgpu::RequestDeviceError),
    /// The picture is empty or larger than the device takes.
    Size {
        /// Width and height asked for, in pixels.
        asked: [u32; 2],
        /// The most of either.
        most: u32,
    },
    /// The picture was drawn but could not be read back.
    Read(String),
}

impl fmt::Display for OffscreenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoAdapter(error) => write!(
                f,
                "no graphics device answers ({error}); a software one is in Debian's \
                 mesa-vulkan-drivers"
            ),
            Self::NoDevice(error) => write!(f, "the graphics device cannot be used: {error}"),
            Self::Size {
                asked: [width, height],
                most,
            } => write!(
                f,
                "a picture of {width} by {height} pixels cannot be drawn: each side is 1 to {most}"
            ),
            Self::Read(error) => write!(f, "the picture could not be read back: {error}"),
        }
    }
}

impl std::error::Error for OffscreenError {}

const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

impl Offscreen {
    /// Opens a device; waits for it.
    ///
    /// # Errors
    /// [`OffscreenError::NoAdapter`] and [`OffscreenError::NoDevice`].
    pub fn new() -> Result<Self, OffscreenError> {
        let instance = wgpu::Instance::new(
            // `WGPU_BACKEND` chooses the way to the device, as in the window.
            wgpu::InstanceDescriptor::new_without_display_handle_from_env(),
        );
        let adapter =
            pollster::block_on(instance.request_adapter(&wgpu::RequestAdapterOptions::default()))
                .map_err(OffscreenError::NoAdapter)?;
        let (device, queue) = pollster::block_on(adapter.request_device(&wgpu::DeviceDescriptor {
            label: Some("offscreen"),
            required_limits:
                wgpu::Limits::downlevel_webgl2_defaults().using_resolution(adapter.limits()),
            ..wgpu::DeviceDescriptor::default()
        }))
        .map_err(OffscreenError::NoDevice)?;
        let painters = Painters::new(&device, FORMAT);
        Ok(Self {
            device,
            queue,
            painters,
            name: adapter.get_info().name,
        })
    }

    /// What the device calls itself.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Draws a scene, fitted and centred, and returns its pixels row by row from the top, RGBA,
    /// 4 bytes each. Words are left out.
    ///
    /// # Errors
    /// [`OffscreenError::Size`] and [`OffscreenError::Read`].
    pub fn render(
        &self,
        scene: &Scene,
        size_px: [u32; 2],
        pixels_per_point: f64,
        ground: Colour,
    ) -> Result<Vec<u8>, OffscreenError> {
        let most = self.device.limits().max_texture_dimension_2d;
        if size_px.iter().any(|side| !(1..=most).contains(side)) {
            return Err(OffscreenError::Size {
                asked: size_px,
                most,
            });
        }
        let extent = wgpu::Extent3d {
            width: size_px[0],
            height: size_px[1],
            depth_or_array_layers: 1,
        };
        let texture = self.device.create_texture(&wgpu::TextureDescriptor {
            label: Some("offscreen"),
            size: extent,
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: FORMAT,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        });
        let camera = Camera::fit(scene, size_px.map(f64::from), pixels_per_point);
        let batches = Batches::new(scene, &camera);
        let prepared = self
            .painters
            .prepare(&self.device, &self.queue, &batches, &camera, None);
        let mut encoder = self
            .device
            .create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        {
            let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
                label: Some("offscreen"),
                color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                    view: &texture.create_view(&wgpu::TextureViewDescriptor::default()),
                    resolve_target: None,
                    ops: wgpu::Operations {
                        load: wgpu::LoadOp::Clear(clear(ground)),
                        store: wgpu::StoreOp::Store,
                    },
                    depth_slice: None,
                })],
                ..wgpu::RenderPassDescriptor::default()
            });
            self.painters.paint(&mut pass, &prepared);
        }
        self.read(encoder, &texture, extent)
    }

    /// Runs what was recorded and copies the texture out. Rows in a buffer start at whole
    /// multiples of 256 bytes, so each is longer than the picture's.
    fn read(
        &self,
        mut encoder: wgpu::CommandEncoder,
        texture: &wgpu::Texture,
        extent: wgpu::Extent3d,
    ) -> Result<Vec<u8>, OffscreenError> {
        let row = 4 * extent.width;
        let padded = row.next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = self.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("pixels"),
            size: u64::from(padded) * u64::from(extent.height),
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        encoder.copy_texture_to_buffer(
            texture.as_image_copy(),
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(padded),
                    rows_per_image: None,
                },
            },
            extent,
        );
        self.queue.submit([encoder.finish()]);
        let (sender, receiver) = std::sync::mpsc::channel();
        buffer
            .slice(..)
            .map_async(wgpu::MapMode::Read, move |result| {
                // The receiver waits below; were it gone, no one would miss the answer.
                let _ = sender.send(result);
            });
        let failed = |error: &dyn fmt::Display| OffscreenError::Read(error.to_string());
        self.device
            .poll(wgpu::PollType::wait_indefinitely())
            .map_err(|error| failed(&error))?;
        receiver
            .recv()
            .map_err(|error| failed(&error))?
            .map_err(|error| failed(&error))?;
        let mapped = buffer
            .slice(..)
            .get_mapped_range()
            .map_err(|error| failed(&error))?;
        let pixels = mapped
            .chunks_exact(padded as usize)
            .flat_map(|line| &line[..row as usize])
            .copied()
            .collect();
        Ok(pixels)
    }
}

/// The colour as the target holds it: sRGB bytes, no conversion.
fn clear(colour: Colour) -> wgpu::Color {
    let share = |byte: u8| f64::from(byte) / 255.0;
    wgpu::Color {
        r: share(colour.r),
        g: share(colour.g),
        b: share(colour.b),
        a: share(colour.a),
    }
}
