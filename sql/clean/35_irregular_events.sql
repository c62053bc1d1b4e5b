-- clean.irregular_events: one row per event at an irregular point.
-- Reads clean.events, clean.irregular_points.
create or replace table clean.irregular_events as
select point_no, happened_on, kind, hose_id, seen_on, cells_hash, row_no
from clean.events
semi join clean.irregular_points using (point_no)
