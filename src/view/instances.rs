//! What the shaders read for each shape. Private to the painters; a test below holds each
//! against its shader.

use bytemuck::{Pod, Zeroable};

/// A kind of painter, in the order of their pipelines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// `glow.wgsl`
    Glow,
    /// `ring_sector.wgsl`
    RingSector,
    /// `quad.wgsl`
    Quad,
    /// `stroke.wgsl`
    Stroke,
    /// `arrow.wgsl`
    Arrow,
    /// `trace.wgsl`
    Trace,
}

/// Pieces of a strip along a circle, as `shaders/camera.wgsl` has them.
const STRIP_PIECES: u32 = 32;

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 6] = [
        Self::Glow,
        Self::RingSector,
        Self::Quad,
        Self::Stroke,
        Self::Arrow,
        Self::Trace,
    ];

    /// Place in [`Kind::ALL`].
    #[must_use]
    pub const fn idx(self) -> usize {
        self as usize
    }

    /// The shader with the shared pieces before it.
    pub(super) const fn source(self) -> &'static str {
        macro_rules! shader {
            ($file:literal) => {
                concat!(
                    include_str!("../../shaders/camera.wgsl"),
                    include_str!("../../shaders/line_edge.wgsl"),
                    include_str!("../../shaders/colour.wgsl"),
                    include_str!(concat!("../../shaders/", $file, ".wgsl"))
                )
            };
        }
        match self {
            Self::Glow => shader!("glow"),
            Self::RingSector => shader!("ring_sector"),
            Self::Quad => shader!("quad"),
            Self::Stroke => shader!("stroke"),
            Self::Arrow => shader!("arrow"),
            Self::Trace => shader!("trace"),
        }
    }

    /// Vertices of the strip that an instance is: a box, or what follows a circle.
    pub(super) const fn n_vertices(self) -> u32 {
        match self {
            Self::RingSector | Self::Stroke => 2 * (STRIP_PIECES + 1),
            Self::Glow | Self::Quad | Self::Arrow | Self::Trace => 4,
        }
    }

    /// How one instance lies in its buffer: bytes from one to the next, and its attributes.
    pub(super) const fn layout(self) -> (u64, &'static [wgpu::VertexAttribute]) {
        match self {
            Self::Glow => (size_of::<Glow>() as u64, &Glow::ATTRIBUTES),
            Self::RingSector => (size_of::<RingSector>() as u64, &RingSector::ATTRIBUTES),
            Self::Quad => (size_of::<Quad>() as u64, &Quad::ATTRIBUTES),
            Self::Stroke => (size_of::<Stroke>() as u64, &Stroke::ATTRIBUTES),
            Self::Arrow => (size_of::<Arrow>() as u64, &Arrow::ATTRIBUTES),
            Self::Trace => (size_of::<Trace>() as u64, &Trace::ATTRIBUTES),
        }
    }
}

/// Declares an instance with its attributes, locations in the order of the fields.
macro_rules! instance {
    ($(#[$doc:meta])* $name:ident { $($location:literal $field:ident: $type:ty as $format:ident,)+ }) => {
        $(#[$doc])*
        #[repr(C)]
        #[derive(Clone, Copy, Debug, Pod, Zeroable)]
        pub(super) struct $name {
            $(pub(super) $field: $type,)+
        }

        impl $name {
            const ATTRIBUTES: [wgpu::VertexAttribute; [$($location),+].len()] = [
                $(wgpu::VertexAttribute {
                    format: wgpu::VertexFormat::$format,
                    offset: std::mem::offset_of!($name, $field) as u64,
                    shader_location: $location,
                }),+
            ];
        }
    };
}

instance!(
    /// See `glow.wgsl`.
    Glow {
        0 centre: [f32; 2] as Float32x2,
        1 radius: f32 as Float32,
        2 colour: [u8; 4] as Unorm8x4,
    }
);

instance!(
    /// See `ring_sector.wgsl`.
    RingSector {
        0 centre: [f32; 2] as Float32x2,
        1 radii: [f32; 2] as Float32x2,
        2 middle: [f32; 2] as Float32x2,
        3 half_angle: f32 as Float32,
        4 corner: f32 as Float32,
        5 edge_px: f32 as Float32,
        6 fill: [u8; 4] as Unorm8x4,
        7 edge: [u8; 4] as Unorm8x4,
    }
);

instance!(
    /// See `quad.wgsl`.
    Quad {
        0 ab: [f32; 4] as Float32x4,
        1 cd: [f32; 4] as Float32x4,
        2 corner: f32 as Float32,
        3 edge_px: f32 as Float32,
        4 fill: [u8; 4] as Unorm8x4,
        5 edge: [u8; 4] as Unorm8x4,
    }
);

instance!(
    /// See `stroke.wgsl`.
    Stroke {
        0 shape: [f32; 4] as Float32x4,
        1 sweep: f32 as Float32,
        2 width_px: f32 as Float32,
        3 dash_px: [f32; 3] as Float32x3,
        4 colour: [u8; 4] as Unorm8x4,
    }
);

instance!(
    /// See `arrow.wgsl`.
    Arrow {
        0 from_to: [f32; 4] as Float32x4,
        1 sizes: [f32; 4] as Float32x4,
        2 fill: [u8; 4] as Unorm8x4,
        3 edge: [u8; 4] as Unorm8x4,
    }
);

instance!(
    /// See `trace.wgsl`.
    Trace {
        0 x: [f32; 2] as Float32x2,
        1 ranges: [f32; 4] as Float32x4,
        2 width_px: f32 as Float32,
        3 colour: [u8; 4] as Unorm8x4,
    }
);

/// The uniform of `camera.wgsl`.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq, Pod, Zeroable)]
pub(super) struct CameraUniform {
    pub(super) half_size_px: [f32; 2],
    pub(super) target_is_linear: f32,
    pub(super) unused: f32,
}

#[cfg(test)]
mod tests {
    use super::*;
    use naga::{Binding, BuiltIn, ScalarKind, TypeInner};

    fn parsed(kind: Kind) -> naga::Module {
        match naga::front::wgsl::parse_str(kind.source()) {
            Ok(module) => module,
            Err(error) => panic!("{kind:?}: {}", error.emit_to_string(kind.source())),
        }
    }

    /// naga is what turns the shaders into those of each platform; a shader that it validates
    /// without extra capabilities is one that WebGL2 takes.
    #[test]
    fn a_strip_has_as_many_pieces_here_as_in_the_shader() {
        let written = format!("const STRIP_PIECES: u32 = {STRIP_PIECES}u;");
        assert!(Kind::Stroke.source().contains(&written));
    }

    #[test]
    fn every_shader_is_valid_without_extra_capabilities() {
        for kind in Kind::ALL {
            let mut validator = naga::valid::Validator::new(
                naga::valid::ValidationFlags::all(),
                naga::valid::Capabilities::empty(),
            );
            if let Err(error) = validator.validate(&parsed(kind)) {
                panic!("{kind:?}: {}", error.emit_to_string(kind.source()));
            }
        }
    }

    /// Floats of an attribute's format and of a shader's type.
    fn floats(format: wgpu::VertexFormat) -> u32 {
        match format {
            wgpu::VertexFormat::Float32 => 1,
            wgpu::VertexFormat::Float32x2 => 2,
            wgpu::VertexFormat::Float32x3 => 3,
            wgpu::VertexFormat::Float32x4 | wgpu::VertexFormat::Unorm8x4 => 4,
            other => panic!("no painter uses {other:?}"),
        }
    }

    fn floats_of_type(inner: &TypeInner) -> u32 {
        match inner {
            TypeInner::Scalar(scalar) if scalar.kind == ScalarKind::Float => 1,
            TypeInner::Vector { size, scalar } if scalar.kind == ScalarKind::Float => *size as u32,
            other => panic!("an input that is no float: {other:?}"),
        }
    }

    #[test]
    fn every_instance_is_what_its_shader_reads() {
        for kind in Kind::ALL {
            let module = parsed(kind);
            let (stride, attributes) = kind.layout();
            let vertex = module
                .entry_points
                .iter()
                .find(|entry| entry.stage == naga::ShaderStage::Vertex)
                .unwrap();
            let mut seen = 0;
            for argument in &vertex.function.arguments {
                if argument.binding == Some(Binding::BuiltIn(BuiltIn::VertexIndex)) {
                    continue;
                }
                let TypeInner::Struct { members, .. } = &module.types[argument.ty].inner else {
                    panic!("{kind:?}: the instance is a struct");
                };
                for member in members {
                    let Some(Binding::Location { location, .. }) = member.binding else {
                        panic!("{kind:?}: {:?} has no location", member.name);
                    };
                    let attribute = attributes
                        .iter()
                        .find(|attribute| attribute.shader_location == location)
                        .unwrap_or_else(|| panic!("{kind:?}: location {location} is not fed"));
                    let wanted = floats_of_type(&module.types[member.ty].inner);
                    assert_eq!(
                        floats(attribute.format),
                        wanted,
                        "{kind:?} {:?}",
                        member.name
                    );
                    seen += 1;
                }
            }
            assert_eq!(seen, attributes.len(), "{kind:?} feeds what no one reads");
            // Packed without holes: offsets follow from the sizes.
            let mut offset = 0;
            for attribute in attributes {
                assert_eq!(
                    attribute.offset, offset,
                    "{kind:?} {}",
                    attribute.shader_location
                );
                offset += attribute.format.size();
            }
            assert_eq!(offset, stride, "{kind:?}");
        }
    }

    /// What the vertex stage hands on, the fragment stage takes: same places, same types. A
    /// device would refuse the pair only when the pipeline is built.
    #[test]
    fn both_stages_of_a_shader_agree() {
        type Handed = Vec<(u32, u32, String)>;
        let of_struct = |module: &naga::Module, ty: naga::Handle<naga::Type>| -> Handed {
            let TypeInner::Struct { members, .. } = &module.types[ty].inner else {
                return Vec::new();
            };
            let mut handed: Handed = members
                .iter()
                .filter_map(|member| {
                    let Some(Binding::Location {
                        location,
                        interpolation,
                        ..
                    }) = member.binding
                    else {
                        return None;
                    };
                    let floats = floats_of_type(&module.types[member.ty].inner);
                    Some((location, floats, format!("{interpolation:?}")))
                })
                .collect();
            handed.sort();
            handed
        };
        for kind in Kind::ALL {
            let module = parsed(kind);
            let stage = |stage| {
                let found = module
                    .entry_points
                    .iter()
                    .find(|entry| entry.stage == stage);
                &found.unwrap().function
            };
            let (vertex, fragment) = (
                stage(naga::ShaderStage::Vertex),
                stage(naga::ShaderStage::Fragment),
            );
            let given = of_struct(&module, vertex.result.as_ref().unwrap().ty);
            let taken: Handed = fragment
                .arguments
                .iter()
                .flat_map(|argument| of_struct(&module, argument.ty))
                .collect();
            assert!(!given.is_empty(), "{kind:?} hands something on");
            assert_eq!(given, taken, "{kind:?}");
        }
    }

    /// Nothing but uniforms: WebGL2 has no storage buffers, and no compute.
    #[test]
    fn no_shader_needs_more_than_a_browser_has() {
        for kind in Kind::ALL {
            let module = parsed(kind);
            for (_, variable) in module.global_variables.iter() {
                assert_eq!(variable.space, naga::AddressSpace::Uniform, "{kind:?}");
            }
            assert!(
                module
                    .entry_points
                    .iter()
                    .all(|entry| entry.stage != naga::ShaderStage::Compute),
                "{kind:?}"
            );
        }
    }

    #[test]
    fn the_camera_is_what_the_shaders_read() {
        let module = parsed(Kind::Quad);
        let (_, camera) = module
            .types
            .iter()
            .find(|(_, ty)| ty.name.as_deref() == Some("Camera"))
            .unwrap();
        let TypeInner::Struct { members, span } = &camera.inner else {
            panic!("a struct")
        };
        assert_eq!(*span as usize, size_of::<CameraUniform>());
        let offsets: Vec<(&str, usize)> = members
            .iter()
            .map(|member| (member.name.as_deref().unwrap(), member.offset as usize))
            .collect();
        assert_eq!(
            offsets,
            [
                (
                    "half_size_px",
                    std::mem::offset_of!(CameraUniform, half_size_px)
                ),
                (
                    "target_is_linear",
                    std::mem::offset_of!(CameraUniform, target_is_linear)
                ),
                ("unused", std::mem::offset_of!(CameraUniform, unused)),
            ]
        );
    }
}
