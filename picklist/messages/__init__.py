"""Scheduling messages of other systems (HL7 v2 and FHIR) as plain events, and events as rows of a schedule.

Only what a white list names passes the door: ids, times, action codes, and the codes that the
table Codes may give a meaning. What a patient could stand in is dropped before anything is kept.
"""
