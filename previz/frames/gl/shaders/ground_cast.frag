#version 330 core
// Shadow and beam of the ground's patch in one picture: what is left of the light, and what is added, as a share of it.
uniform sampler2D shadow;
uniform sampler2D beam;
uniform sampler2D light;
uniform mat4 uv_of_patch;              // where in `light` a place of the patch is
out vec4 share;
void main() {
    vec2 place = gl_FragCoord.xy / vec2(textureSize(shadow, 0));
    vec3 there = texture(light, (uv_of_patch * vec4(place, 0.0, 1.0)).xy).rgb;
    ivec2 texel = ivec2(gl_FragCoord.xy);
    vec3 left = texelFetch(shadow, texel, 0).rgb * min(there / LEAST, vec3(1.0));
    left += texelFetch(beam, texel, 0).rgb / max(there, vec3(LEAST));
    share = vec4(min(left, vec3(60000.0)), 1.0);
}
