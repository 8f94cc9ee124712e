"""The machine: servers for this computer alone, the learner's folder, and compiling beforehand."""
