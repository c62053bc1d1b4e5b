-- results.other_readings: one row per doubt and kind of hose: B10 of its own lives as the logs are read, and under the other reading.
-- Reads other_readings_frame.
create or replace table results.other_readings as
select
    doubt, application_class, construction, mechanism, n_rows::integer as n_rows, b10_days, b10_days_other
from other_readings_frame
order by doubt, application_class, construction
