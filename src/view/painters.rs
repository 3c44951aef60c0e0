//! The pipelines, and a scene made ready for them.

use super::Run;
use super::batches::Batches;
use super::camera::{Camera, single};
use super::instances::{CameraUniform, Kind};

/// One pipeline for each kind of painter, for one kind of target.
#[derive(Debug)]
pub struct Painters {
    pipelines: Vec<wgpu::RenderPipeline>,
    camera_layout: wgpu::BindGroupLayout,
    target_is_linear: bool,
}

/// A scene in buffers of the GPU, ready to be drawn.
#[derive(Debug)]
pub struct Prepared {
    buffers: [Option<wgpu::Buffer>; 6],
    uniform: wgpu::Buffer,
    camera: wgpu::BindGroup,
    runs: Vec<Run>,
}

impl Painters {
    /// Builds the pipelines for targets of that format.
    #[must_use]
    pub fn new(device: &wgpu::Device, format: wgpu::TextureFormat) -> Self {
        let camera_layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some("camera"),
            entries: &[wgpu::BindGroupLayoutEntry {
                binding: 0,
                visibility: wgpu::ShaderStages::VERTEX_FRAGMENT,
                ty: wgpu::BindingType::Buffer {
                    ty: wgpu::BufferBindingType::Uniform,
                    has_dynamic_offset: false,
                    min_binding_size: None,
                },
                count: None,
            }],
        });
        let layout = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
            label: Some("painters"),
            bind_group_layouts: &[Some(&camera_layout)],
            immediate_size: 0,
        });
        let pipelines = Kind::ALL
            .iter()
            .map(|kind| pipeline(device, &layout, format, *kind))
            .collect();
        Self {
            pipelines,
            camera_layout,
            target_is_linear: format.is_srgb(),
        }
    }

    /// Brings a scene to the GPU, into the buffers of the picture before it where they are large
    /// enough. Nothing is mapped: a browser's device that was lost refuses that with an error.
    #[must_use]
    pub fn prepare(
        &self,
        device: &wgpu::Device,
        queue: &wgpu::Queue,
        batches: &Batches,
        camera: &Camera,
        before: Option<Prepared>,
    ) -> Prepared {
        let mut prepared = before.unwrap_or_else(|| self.empty(device));
        for (buffer, bytes) in prepared.buffers.iter_mut().zip(&batches.bytes) {
            if bytes.is_empty() {
                continue;
            }
            let n_bytes = bytes.len() as u64;
            let large_enough = buffer.take().filter(|there| there.size() >= n_bytes);
            let there = large_enough.unwrap_or_else(|| {
                device.create_buffer(&wgpu::BufferDescriptor {
                    label: Some("instances"),
                    size: n_bytes.next_power_of_two(),
                    usage: wgpu::BufferUsages::VERTEX | wgpu::BufferUsages::COPY_DST,
                    mapped_at_creation: false,
                })
            });
            queue.write_buffer(&there, 0, bytes);
            *buffer = Some(there);
        }
        let uniform = CameraUniform {
            half_size_px: camera.size_px.map(|pixels| single(pixels / 2.0).max(0.5)),
            target_is_linear: f32::from(u8::from(self.target_is_linear)),
            unused: 0.0,
        };
        queue.write_buffer(&prepared.uniform, 0, bytemuck::bytes_of(&uniform));
        prepared.runs = batches.runs().to_vec();
        prepared
    }

    fn empty(&self, device: &wgpu::Device) -> Prepared {
        let uniform = device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("camera"),
            size: size_of::<CameraUniform>() as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let camera = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("camera"),
            layout: &self.camera_layout,
            entries: &[wgpu::BindGroupEntry {
                binding: 0,
                resource: uniform.as_entire_binding(),
            }],
        });
        Prepared {
            buffers: [const { None }; 6],
            uniform,
            camera,
            runs: Vec::new(),
        }
    }

    /// Draws what was prepared over what the pass holds. The pass's viewport is the picture.
    pub fn paint(&self, pass: &mut wgpu::RenderPass<'_>, prepared: &Prepared) {
        pass.set_bind_group(0, &prepared.camera, &[]);
        for run in &prepared.runs {
            let Some(buffer) = &prepared.buffers[run.kind.idx()] else {
                continue;
            };
            pass.set_pipeline(&self.pipelines[run.kind.idx()]);
            pass.set_vertex_buffer(0, buffer.slice(..));
            pass.draw(0..run.kind.n_vertices(), run.instances.clone());
        }
    }
}

fn pipeline(
    device: &wgpu::Device,
    layout: &wgpu::PipelineLayout,
    format: wgpu::TextureFormat,
    kind: Kind,
) -> wgpu::RenderPipeline {
    let label = format!("{kind:?}");
    let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: Some(&label),
        source: wgpu::ShaderSource::Wgsl(kind.source().into()),
    });
    let (array_stride, attributes) = kind.layout();
    device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: Some(&label),
        layout: Some(layout),
        vertex: wgpu::VertexState {
            module: &module,
            entry_point: Some("vertex"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            buffers: &[Some(wgpu::VertexBufferLayout {
                array_stride,
                step_mode: wgpu::VertexStepMode::Instance,
                attributes,
            })],
        },
        primitive: wgpu::PrimitiveState {
            topology: wgpu::PrimitiveTopology::TriangleStrip,
            ..wgpu::PrimitiveState::default()
        },
        depth_stencil: None,
        multisample: wgpu::MultisampleState::default(),
        fragment: Some(wgpu::FragmentState {
            module: &module,
            entry_point: Some("fragment"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            targets: &[Some(wgpu::ColorTargetState {
                format,
                blend: Some(wgpu::BlendState::PREMULTIPLIED_ALPHA_BLENDING),
                write_mask: wgpu::ColorWrites::ALL,
            })],
        }),
        multiview_mask: None,
        cache: None,
    })
}
