-- A space whose temperature is known reads the temperature outdoors as well, to fit how it warms: a sample of that wakes its
-- fold from now on. New documents write this link themselves.
insert into point_subjects (point_id, subject_id)
select outdoors.id, s.id
from subjects s
join points outdoors on outdoors.site = s.site and outdoors.device = 'site' and outdoors.signal = 'outdoor-temperature'
where s.kind = 'space'
  and exists (
    select from point_subjects link join points p on p.id = link.point_id
    where link.subject_id = s.id and p.signal = 'space-temperature')
on conflict do nothing;
