-- Every stay is a life, with its class, and a mechanism if and only if it failed. Returns those
-- of which that is not true.
select s.stay_id, s.service_point, l.kind, l.mechanism
from lives.stays as s
full join lives.lives as l on l.life_id = s.stay_id
where s.stay_id is null or l.life_id is null or l.application_class is null
    or (l.mechanism is not null) <> (l.kind <> 'suspended')
    or l.is_fitted <> (l.exclusion is null)
order by s.stay_id
