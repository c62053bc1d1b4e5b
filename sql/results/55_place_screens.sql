-- results.place_screens: one row per service point, screen and line it is compared with; a screen ranks places and clears none.
-- Reads place_screens_frame, seeds.screens.
create or replace table results.place_screens as
select
    f.service_point, f.screen, s.title, f.compared_with, f.value, f.lower, f.upper, f.limit_value, s.unit, f.ratio,
    f.rank::integer as rank, f.n_ranked::integer as n_ranked, f.source, f.status, s.cannot_tell
from place_screens_frame as f
join seeds.screens as s using (screen)
order by f.service_point, f.screen, f.compared_with
