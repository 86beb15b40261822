"""Document sets: extract a reader's file, make its pages apart from the job, check them, put them in place."""

from stagefloor.package.build import Built, build, build_from_file

__all__ = ["Built", "build", "build_from_file"]
