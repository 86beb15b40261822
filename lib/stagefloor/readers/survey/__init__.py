"""The survey sheet: what a surveyor's phone gets, and its page."""

from stagefloor.readers.survey.record import Field, Question, Row, Rows, SurveySheet, Topic

__all__ = ["Field", "Question", "Row", "Rows", "SurveySheet", "Topic"]
