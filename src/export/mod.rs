//! Files that a run leaves: waveforms, logic traces and pictures.
