"""Grading: building labs, running submissions apart, marking them in trust, and reporting.

Glossary
    course      a folder with source/, release/ and autograde/course.toml
    run         the learner's cells executed in a process that is never trusted
    marking     the instructor's check cells executed in a process that never ran learner code
    record      what is kept of one graded submission, beside the gradebook's marks
"""
