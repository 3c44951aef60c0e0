//! The general-purpose integrators behind one face.

use super::piece::Piece;
use super::watch::{Step, Watch};
use diffsol::{NalgebraMat, OdeBuilder, OdeEquations, OdeSolverMethod, OdeSolverStopReason};
use ode_solvers::OutputType;
use ode_solvers::{Dop853, Dopri5, SVector, System};
use std::cell::{Cell, RefCell};
use std::marker::PhantomData;

/// An integrator.
pub trait Stepper<const N: usize> {
    /// Integrates the piece of `watch` from where it is to `end`, or until something happens.
    fn advance(&mut self, watch: &mut Watch<'_, N>, end: f64, h_max: f64);
    /// The solution at `x` inside a step just taken.
    fn inside(&mut self, piece: &Piece, step: &Step<N>, x: f64) -> [f64; N];
}

/// Equations with somebody looking.
struct Looking<'w, 'a, const N: usize> {
    watch: &'w mut Watch<'a, N>,
    /// Derivatives at the start: the first that are asked for.
    start: Cell<Option<[f64; N]>>,
    started: Cell<bool>,
}

impl<const N: usize> System<f64, SVector<f64, N>> for Looking<'_, '_, N> {
    fn system(&self, _x: f64, y: &SVector<f64, N>, dy: &mut SVector<f64, N>) {
        self.watch.piece.rhs(y.as_slice(), dy.as_mut_slice());
        if !self.started.replace(true) {
            self.start.set(Some((*dy).into()));
        }
    }

    fn solout(&mut self, x: f64, y: &SVector<f64, N>, dy: &SVector<f64, N>) -> bool {
        if let Some(d) = self.start.take() {
            self.watch.d = d;
        }
        self.watch.see(x, y.as_slice(), dy.as_slice())
    }
}

/// Equations alone.
struct Alone<'a>(&'a Piece);

impl<const N: usize> System<f64, SVector<f64, N>> for Alone<'_> {
    fn system(&self, _x: f64, y: &SVector<f64, N>, dy: &mut SVector<f64, N>) {
        self.0.rhs(y.as_slice(), dy.as_mut_slice());
    }
}

/// Writes a stepper on top of one method of `ode_solvers`; the two differ in name and in the
/// step-size control constants their authors recommend.
macro_rules! ode_solvers_stepper {
    ($(#[$doc:meta])* $stepper:ident, $method:ident, $beta:expr, $fac_min:expr, $fac_max:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug)]
        pub struct $stepper<const N: usize> {
            tolerance: f64,
            step: f64,
        }

        impl<const N: usize> $stepper<N> {
            /// At a tolerance.
            pub const fn new(tolerance: f64) -> Self {
                Self { tolerance, step: f64::INFINITY }
            }
        }

        impl<const N: usize> Stepper<N> for $stepper<N> {
            fn advance(&mut self, watch: &mut Watch<'_, N>, end: f64, h_max: f64) {
                let (x, y) = (watch.x, SVector::from(watch.y));
                let looking = Looking {
                    watch,
                    start: Cell::new(None),
                    started: Cell::new(false),
                };
                let first = h_max.min(end - x).min(self.step);
                let mut solver = $method::from_param(
                    looking, x, end, 0.0, y, self.tolerance, self.tolerance, 0.9, $beta,
                    $fac_min, $fac_max, h_max, first, 100_000, 1_000_000, OutputType::Sparse,
                );
                let stats = solver.integrate().expect("a smooth piece can be integrated");
                // A piece that needed more than one step says how long the next may begin.
                self.step = if stats.accepted_steps + stats.rejected_steps > 1 {
                    2.0 * (end - x) / f64::from(stats.accepted_steps)
                } else {
                    f64::INFINITY
                };
            }

            fn inside(&mut self, piece: &Piece, step: &Step<N>, x: f64) -> [f64; N] {
                if x <= step.x0 {
                    return step.y0;
                }
                let length = x - step.x0;
                let mut solver = $method::from_param(
                    Alone(piece), 0.0, length, 0.0, SVector::from(step.y0), self.tolerance,
                    self.tolerance, 0.9, $beta, $fac_min, $fac_max, length, length, 100_000,
                    1_000_000, OutputType::Sparse,
                );
                solver.integrate().expect("a smooth piece can be integrated");
                let y: &SVector<f64, N> = solver.y_out().last().expect("an end point");
                (*y).into()
            }
        }
    };
}

ode_solvers_stepper!(
    /// Dormand-Prince 5(4) of `ode_solvers`.
    Dopri5Stepper, Dopri5, 0.04, 0.2, 10.0
);
ode_solvers_stepper!(
    /// Dormand-Prince 8(5,3) of `ode_solvers`.
    Dop853Stepper, Dop853, 0.0, 0.333, 6.0
);

/// Tsitouras 4(5) of `diffsol`. The solver is made once and restarted at each event.
struct Tsit45Stepper<'a, S, E> {
    solver: S,
    present: &'a RefCell<Option<Piece>>,
    equations: PhantomData<E>,
}

impl<'a, const N: usize, S, E> Stepper<N> for Tsit45Stepper<'_, S, E>
where
    E: OdeEquations<T = f64, V = diffsol::NalgebraVec<f64>> + 'a,
    S: OdeSolverMethod<'a, E>,
{
    fn advance(&mut self, watch: &mut Watch<'_, N>, end: f64, h_max: f64) {
        // The closure of the equations outlives every piece, so it reads a copy.
        match &mut *self.present.borrow_mut() {
            Some(piece) => piece.clone_from(watch.piece),
            empty => *empty = Some(watch.piece.clone()),
        }
        watch.piece.rhs(&watch.y, &mut watch.d);
        let x = watch.x;
        {
            let state = self.solver.state_mut();
            for k in 0..N {
                state.y[k] = watch.y[k];
                state.dy[k] = watch.d[k];
            }
            *state.t = x;
            *state.h = h_max.min(end - x);
        }
        self.solver.set_stop_time(end).expect("the end lies ahead");
        loop {
            let reason = self
                .solver
                .step()
                .expect("a smooth piece can be integrated");
            let state = self.solver.state();
            let (mut y, mut d) = ([0.0; N], [0.0; N]);
            for k in 0..N {
                y[k] = state.y[k];
                d[k] = state.dy[k];
            }
            let done = matches!(reason, OdeSolverStopReason::TstopReached);
            let x = if done { end } else { state.t };
            if watch.see(x, &y, &d) || done {
                return;
            }
            let state = self.solver.state();
            let t = state.t;
            let left = end - t;
            if state.h > h_max {
                *self.solver.state_mut().h = h_max.min(left);
            }
        }
    }

    fn inside(&mut self, _piece: &Piece, step: &Step<N>, x: f64) -> [f64; N] {
        let mut y = [0.0; N];
        let x = x.clamp(step.x0, self.solver.state().t);
        let v = self.solver.interpolate(x).expect("inside the step");
        for k in 0..N {
            y[k] = v[k];
        }
        y
    }
}

/// Calls `run` with a `diffsol` stepper.
pub fn with_tsit45<const N: usize, R>(
    tolerance: f64,
    run: impl FnOnce(&mut dyn Stepper<N>) -> R,
) -> R {
    let present: RefCell<Option<Piece>> = RefCell::new(None);
    let problem = OdeBuilder::<NalgebraMat<f64>>::new()
        .rhs(
            |y: &[f64], _p: &[f64], _t: f64, dy: &mut [f64]| match &*present.borrow() {
                Some(piece) => piece.rhs(y, dy),
                None => dy.fill(0.0),
            },
        )
        .init(|_p: &[f64], _t: f64, y: &mut [f64]| y.fill(0.0), N)
        .rtol(tolerance)
        .atol([tolerance])
        .build()
        .expect("a problem");
    let solver = problem.tsit45().expect("a solver");
    run(&mut Tsit45Stepper {
        solver,
        present: &present,
        equations: PhantomData,
    })
}
