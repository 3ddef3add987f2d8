"""The process itself: model files, memory, threads, native libraries, progress."""
