-- results.other_ranks: one row per doubt and place that is among the ten dearest under either reading of it.
-- Reads other_ranks_frame.
create or replace table results.other_ranks as
select doubt, service_point, rank::integer as rank, rank_other::integer as rank_other
from other_ranks_frame
order by doubt, rank, service_point
