//! Loads people have: torque against speed at the load's own shaft.

use std::f64::consts::TAU;

/// Standard acceleration of free fall in m/s² (ISO 80000-3; 3rd CGPM, 1901).
pub const FREE_FALL_M_S2: f64 = 9.806_65;

/// Speed of sound in air of 20 °C in m/s (ISO 2533, standard atmosphere; from memory).
pub const SOUND_IN_AIR_M_S: f64 = 343.0;

/// Part of the speed of sound at a propeller's tips above which its coefficients, measured at lower
/// speeds, are doubted: drag rises steeply and thrust falls behind. Common practice, no source.
pub const DOUBTED_TIP_MACH: f64 = 0.7;

/// Density below which a propeller turns in a gas and not in a liquid, in kg/m³.
const GAS_KG_M3: f64 = 10.0;

/// Gear or belt between motor and load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gear {
    /// Turns of the motor for one of the load.
    pub ratio: f64,
    /// Part of the power that comes through.
    pub efficiency: f64,
}

/// Propeller or fan, standing still in its medium.
///
/// Thrust C_T ρ n² D⁴ and power C_P ρ n³ D⁵ with n in turns a second: the usual definitions of
/// the coefficients (B. W. McCormick, *Aerodynamics, Aeronautics, and Flight Mechanics*, chapter
/// on propellers; from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Propeller {
    /// In m.
    pub diameter_m: f64,
    /// C_T.
    pub thrust_coefficient: f64,
    /// C_P.
    pub power_coefficient: f64,
    /// ρ in kg/m³.
    pub density_kg_m3: f64,
}

impl Propeller {
    /// Torque P/ω in N m at a speed in rad/s.
    #[must_use]
    pub fn torque_nm(&self, speed_rad_s: f64) -> f64 {
        let n = speed_rad_s / TAU;
        self.power_coefficient * self.density_kg_m3 * n * n * power_5(self.diameter_m) / TAU
    }

    /// Thrust in N.
    #[must_use]
    pub fn thrust_n(&self, speed_rad_s: f64) -> f64 {
        let n = speed_rad_s / TAU;
        let d2 = self.diameter_m * self.diameter_m;
        self.thrust_coefficient * self.density_kg_m3 * n * n * d2 * d2
    }

    /// Speed of the tips in m/s at a speed in rad/s.
    #[must_use]
    pub fn tip_m_s(&self, speed_rad_s: f64) -> f64 {
        0.5 * self.diameter_m * speed_rad_s
    }

    /// The same over the speed of sound in air of 20 °C; 0 in a liquid, where other things limit.
    #[must_use]
    pub fn tip_mach(&self, speed_rad_s: f64) -> f64 {
        if self.density_kg_m3 < GAS_KG_M3 {
            self.tip_m_s(speed_rad_s) / SOUND_IN_AIR_M_S
        } else {
            0.0
        }
    }
}

fn power_5(x: f64) -> f64 {
    x * x * x * x * x
}

/// Something on wheels, at a steady speed: weight on the slope, rolling drag, air drag.
///
/// F = m g (sin α + c cos α) + ½ ρ A v², the road-load equation of vehicle textbooks (T. D.
/// Gillespie, *Fundamentals of Vehicle Dynamics*, chapter 4; from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vehicle {
    /// In kg.
    pub mass_kg: f64,
    /// Of the driven wheel in m.
    pub wheel_radius_m: f64,
    /// Rise over run.
    pub grade: f64,
    /// Rolling drag over weight.
    pub rolling_coefficient: f64,
    /// Drag coefficient times frontal area, A in m².
    pub drag_area_m2: f64,
    /// ρ in kg/m³.
    pub density_kg_m3: f64,
}

impl Vehicle {
    /// What the grade pulls downhill, m g sin α, in N; below zero on a falling road.
    #[must_use]
    pub fn grade_force_n(&self) -> f64 {
        let cosine = 1.0 / (1.0 + self.grade * self.grade).sqrt();
        self.mass_kg * FREE_FALL_M_S2 * cosine * self.grade
    }

    /// Drag at a road speed in m/s, in N; rolling drag opposes motion and takes part from rest.
    #[must_use]
    pub fn drag_n(&self, speed_m_s: f64) -> f64 {
        let cosine = 1.0 / (1.0 + self.grade * self.grade).sqrt();
        self.mass_kg * FREE_FALL_M_S2 * cosine * (self.grade + self.rolling_coefficient)
            + 0.5 * self.density_kg_m3 * self.drag_area_m2 * speed_m_s * speed_m_s
    }
}

/// A centrifugal pump: ρ g H Q/η at the design speed, and torque with the speed squared (the
/// affinity laws of pump handbooks; from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pump {
    /// H in m.
    pub head_m: f64,
    /// Q in m³/s.
    pub flow_m3_s: f64,
    /// In rad/s.
    pub speed_rad_s: f64,
    /// η.
    pub efficiency: f64,
    /// ρ in kg/m³.
    pub density_kg_m3: f64,
}

impl Pump {
    /// Torque in N m at a speed in rad/s.
    #[must_use]
    pub fn torque_nm(&self, speed_rad_s: f64) -> f64 {
        let power_w =
            self.density_kg_m3 * FREE_FALL_M_S2 * self.head_m * self.flow_m3_s / self.efficiency;
        let part = speed_rad_s / self.speed_rad_s;
        power_w / self.speed_rad_s * part * part
    }
}

/// A weight on a drum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Winch {
    /// In kg.
    pub mass_kg: f64,
    /// In m.
    pub drum_radius_m: f64,
}

/// Everything on the load's shaft; the torques add up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Loads {
    /// Torque that does not depend on speed, in N m.
    pub constant_nm: f64,
    /// Torque over speed squared in N m s²/rad².
    pub quadratic_nm_s2: f64,
    /// Moment of inertia besides the vehicle's and winch's masses in kg m².
    pub inertia_kg_m2: f64,
    /// Propeller or fan.
    pub propeller: Option<Propeller>,
    /// Something on wheels.
    pub vehicle: Option<Vehicle>,
    /// Pump.
    pub pump: Option<Pump>,
    /// Weight on a drum.
    pub winch: Option<Winch>,
}

impl Loads {
    /// Torque at the load's shaft in N m, at its speed in rad/s (0 or above).
    #[must_use]
    pub fn torque_nm(&self, speed_rad_s: f64) -> f64 {
        let mut sum = self.constant_nm + self.quadratic_nm_s2 * speed_rad_s * speed_rad_s;
        if let Some(propeller) = &self.propeller {
            sum += propeller.torque_nm(speed_rad_s);
        }
        if let Some(vehicle) = &self.vehicle {
            sum += vehicle.wheel_radius_m * vehicle.drag_n(vehicle.wheel_radius_m * speed_rad_s);
        }
        if let Some(pump) = &self.pump {
            sum += pump.torque_nm(speed_rad_s);
        }
        if let Some(winch) = &self.winch {
            sum += winch.drum_radius_m * winch.mass_kg * FREE_FALL_M_S2;
        }
        sum
    }

    /// Moment of inertia at the load's shaft, moved masses included, in kg m².
    #[must_use]
    pub fn total_inertia_kg_m2(&self) -> f64 {
        let of = |mass_kg: f64, radius_m: f64| mass_kg * radius_m * radius_m;
        self.inertia_kg_m2
            + self
                .vehicle
                .map_or(0.0, |v| of(v.mass_kg, v.wheel_radius_m))
            + self.winch.map_or(0.0, |w| of(w.mass_kg, w.drum_radius_m))
    }
}
